// @ts-check
// The bar above a sheet: what can be done with it, and how it stands.

/**
 * @typedef {{save: () => void, undo: () => void, add: () => void, remove: () => void,
 *   find: (words: string) => void}} Acts
 * @typedef {{rows: number, unsaved: number, problems: number, saving: boolean,
 *   editing: boolean, undoable: boolean, locked: boolean}} Standing
 */

export class SheetBar {
  /** @param {Acts} acts */
  constructor(acts) {
    this.save = button("Save", acts.save);
    this.save.classList.add("main-button");
    this.undo = button("Undo", acts.undo);
    this.add = button("Add row", acts.add);
    this.remove = button("Delete row", acts.remove);
    this.search = document.createElement("input");
    this.search.type = "search";
    this.search.placeholder = "Find in this table";
    this.search.setAttribute("aria-label", "Find in this table");
    this.search.addEventListener("input", () => acts.find(this.search.value));
    this.state = document.createElement("span");
    this.state.className = "sheet-state";
    this.element = document.createElement("div");
    this.element.className = "sheet-bar";
    this.element.append(this.save, this.undo, this.add, this.remove, this.search, this.state);
    this.message = document.createElement("p");
    this.message.className = "sheet-message";
    this.message.setAttribute("role", "status");
  }

  /** @param {Standing} standing */
  draw(standing) {
    this.save.disabled = standing.saving || (standing.unsaved === 0 && !standing.editing);
    this.undo.disabled = !standing.undoable;
    this.add.disabled = standing.locked;
    this.remove.disabled = standing.locked || standing.rows === 0;
    const words = [counted(standing.rows, "row")];
    if (standing.unsaved) words.push(`${counted(standing.unsaved, "row")} changed, not saved`);
    if (standing.problems) words.push(counted(standing.problems, "problem"));
    this.state.textContent = standing.saving ? "Saving…" : words.join(" · ");
  }

  /** @param {string} words @param {""|"problem"|"doubt"} [kind] */
  tell(words, kind = "") {
    this.message.textContent = words;
    this.message.dataset.kind = kind;
  }
}

/** @param {string} words @param {() => void} act */
function button(words, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", act);
  return made;
}

/** @param {number} count @param {string} noun */
function counted(count, noun) {
  return `${count} ${noun}${count === 1 ? "" : "s"}`;
}
