// @ts-check
// The one open cell of a sheet: a text field, or a list where the column has choices.

/** @typedef {import("./server.js").Column} Column */
/**
 * @typedef {{column: Column, value: string, list: string|null, note: string,
 *   onType: (value: string) => void,
 *   onClose: (value: string|null, move: "down"|"up"|"right"|"left"|"stay") => void}} Opening
 */

export class CellEditor {
  /** @param {HTMLElement} cell @param {Opening} opening */
  constructor(cell, opening) {
    this.cell = cell;
    this.opening = opening;
    this.closed = false;
    this.field = opening.column.choices.length ? choiceField(opening) : textField(opening);
    this.field.setAttribute("aria-label", opening.column.title);
    this.field.setAttribute("aria-describedby", opening.note);
    this.field.className = "cell-field";
    this.field.addEventListener("input", () => opening.onType(this.field.value));
    this.field.addEventListener("keydown", (event) => this.#key(/** @type {KeyboardEvent} */ (event)));
    this.field.addEventListener("blur", () => this.close(this.field.value, "stay"));
    cell.replaceChildren(this.field);
    this.field.focus({ preventScroll: true });
    cell.scrollIntoView({ block: "nearest", inline: "nearest" });
    if (this.field instanceof HTMLInputElement) {
      this.field.setSelectionRange(this.field.value.length, this.field.value.length);
    }
  }

  /**
   * @param {string|null} value null leaves the cell as it was
   * @param {"down"|"up"|"right"|"left"|"stay"} move
   */
  close(value, move) {
    if (this.closed) return;
    this.closed = true;
    this.opening.onClose(value, move);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.isComposing) return;
    // Undo, copy and the like act on the text of the field while it is open.
    if (!(event.ctrlKey && event.key === "s")) event.stopPropagation();
    if (event.key === "Enter") {
      event.preventDefault();
      this.close(this.field.value, event.shiftKey ? "up" : "down");
    } else if (event.key === "Tab") {
      event.preventDefault();
      this.close(this.field.value, event.shiftKey ? "left" : "right");
    } else if (event.key === "Escape") {
      event.preventDefault();
      this.close(null, "stay");
    }
  }
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
