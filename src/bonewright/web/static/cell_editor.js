// @ts-check
// The one open cell of a sheet: a field, or a list where the column has choices.

/** @typedef {import("./server.js").Column} Column */
/** @typedef {"down"|"up"|"right"|"left"|"stay"|"all"} Move */
/**
 * @typedef {{column: Column, value: string, list: string|null, note: string,
 *   onType: (value: string) => void,
 *   onClose: (value: string|null, move: Move) => void}} Opening
 */

export class CellEditor {
  /** @param {HTMLElement} cell @param {Opening} opening */
  constructor(cell, opening) {
    this.cell = cell;
    this.opening = opening;
    this.closed = false;
    this.field = fieldFor(opening);
    this.field.setAttribute("aria-label", opening.column.title);
    this.field.setAttribute("aria-describedby", opening.note);
    this.field.className = "cell-field";
    this.field.addEventListener("input", () => opening.onType(this.field.value));
    this.field.addEventListener("keydown", (event) => this.#key(/** @type {KeyboardEvent} */ (event)));
    this.field.addEventListener("blur", () => this.close(this.field.value, "stay"));
    cell.replaceChildren(this.field);
    this.field.focus({ preventScroll: true });
    cell.scrollIntoView({ block: "nearest", inline: "nearest" });
    if (!(this.field instanceof HTMLSelectElement)) {
      this.field.setSelectionRange(this.field.value.length, this.field.value.length);
    }
  }

  /** @param {string|null} value null leaves the cell as it was @param {Move} move */
  close(value, move) {
    if (this.closed) return;
    this.closed = true;
    this.opening.onClose(value, move);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.isComposing) return;
    const command = event.ctrlKey || event.metaKey;
    // Undo, copy and the like act on the text of the field while it is open.
    if (!(command && event.key === "s")) event.stopPropagation();
    if (event.key === "Enter" && event.altKey && this.field instanceof HTMLTextAreaElement) {
      event.preventDefault();
      const { selectionStart, selectionEnd } = this.field;
      this.field.setRangeText("\n", selectionStart, selectionEnd, "end");
      this.opening.onType(this.field.value);
    } else if (event.key === "Enter") {
      event.preventDefault();
      this.close(this.field.value, command ? "all" : event.shiftKey ? "up" : "down");
    } else if (event.key === "Tab") {
      event.preventDefault();
      this.close(this.field.value, event.shiftKey ? "left" : "right");
    } else if (event.key === "Escape") {
      event.preventDefault();
      this.close(null, "stay");
    }
  }
}

/** @param {Opening} opening @returns {HTMLInputElement|HTMLSelectElement|HTMLTextAreaElement} */
function fieldFor(opening) {
  const { column, value, list } = opening;
  if (column.choices.length) return choiceField(opening);
  // Only this field keeps line breaks; only the other offers names.
  if (value.includes("\n") || (column.kind === "text" && !list)) return longField(value);
  return textField(opening);
}

/** @param {string} value */
function longField(value) {
  const field = document.createElement("textarea");
  field.rows = value.split("\n").length;
  field.spellcheck = false;
  field.value = value;
  field.addEventListener("input", () => {
    field.rows = field.value.split("\n").length;
  });
  return field;
}

/** @param {Opening} opening @returns {HTMLInputElement} */
function textField(opening) {
  const field = document.createElement("input");
  field.type = "text";
  field.autocomplete = "off";
  field.spellcheck = false;
  field.value = opening.value;
  if (opening.list) field.setAttribute("list", opening.list);
  if (opening.column.kind === "number" || opening.column.kind === "integer") {
    field.inputMode = "decimal";
  }
  return field;
}

/** @param {Opening} opening @returns {HTMLSelectElement} */
function choiceField(opening) {
  const field = document.createElement("select");
  const standing = opening.value.trim();
  const choices = [...opening.column.choices];
  if (!opening.column.required || standing === "") choices.unshift("");
  if (!choices.includes(standing)) choices.unshift(standing);
  for (const choice of choices) {
    field.append(new Option(choice === "" ? "(empty)" : choice, choice));
  }
  field.value = standing;
  return field;
}
