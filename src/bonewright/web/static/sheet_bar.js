// @ts-check
// The bar above a sheet: what can be done with it, and how it stands.

/**
 * @typedef {{save: () => void, undo: () => void, redo: () => void, add: () => void,
 *   remove: () => void, find: (words: string) => void, kind: (kind: string) => void,
 *   next: () => void, everything: () => void, goOn: (on: boolean) => void}} Acts
 * @typedef {{rows: number, shown: number, filtered: boolean, sorted: boolean, unsaved: number,
 *   problems: number, doubts: number, saving: boolean, editing: boolean, undo: string,
 *   redo: string, earlier: boolean, locked: boolean}} Standing
 */

const KINDS = [
  ["", "All rows"],
  ["problems", "Rows with problems"],
  ["doubts", "Rows to look at"],
  ["changed", "Rows not saved"],
];
const GO_ON = "bonewright-save-as-i-go";

export class SheetBar {
  /** @param {Acts} acts */
  constructor(acts) {
    this.save = button("Save", acts.save);
    this.save.classList.add("main-button");
    this.undo = button("Undo", acts.undo);
    this.redo = button("Redo", acts.redo);
    this.add = button("Add row", acts.add);
    this.remove = button("Delete row", acts.remove);
    this.search = document.createElement("input");
    this.search.type = "search";
    this.search.placeholder = "Find in this table";
    this.search.setAttribute("aria-label", "Find in this table");
    this.search.addEventListener("input", () => acts.find(this.search.value));
    this.kind = document.createElement("select");
    this.kind.setAttribute("aria-label", "Which rows to show");
    this.kind.append(...KINDS.map(([kind, words]) => new Option(words, kind)));
    this.kind.addEventListener("change", () => acts.kind(this.kind.value));
    this.next = button("Next problem", acts.next);
    this.everything = button("Show every row as in the file", acts.everything);
    this.goOn = document.createElement("input");
    this.goOn.type = "checkbox";
    this.goOn.checked = localStorage.getItem(GO_ON) === "yes";
    this.goOn.addEventListener("change", () => {
      localStorage.setItem(GO_ON, this.goOn.checked ? "yes" : "no");
      acts.goOn(this.goOn.checked);
    });
    const goOn = document.createElement("label");
    goOn.className = "save-as-i-go";
    goOn.append(this.goOn, " Save as I go");
    goOn.title = "Saves each change as soon as no problem is left in the rows changed.";
    this.state = document.createElement("span");
    this.state.className = "sheet-state";
    this.element = document.createElement("div");
    this.element.className = "sheet-bar";
    this.element.append(
      this.save,
      goOn,
      this.undo,
      this.redo,
      this.add,
      this.remove,
      this.search,
      this.kind,
      this.next,
      this.everything,
      this.state,
    );
    this.message = document.createElement("p");
    this.message.className = "sheet-message";
    this.message.setAttribute("role", "status");
  }

  /** Whether every change is saved as soon as it can be. */
  get savesAsItGoes() {
    return this.goOn.checked;
  }

  /** @param {Standing} standing */
  draw(standing) {
    this.save.disabled = standing.saving || (standing.unsaved === 0 && !standing.editing);
    this.undo.disabled = standing.undo === "" && !standing.earlier;
    this.undo.title = standing.undo ? `Undo: ${standing.undo}` : "Undo the last step of the study";
    this.redo.disabled = standing.redo === "" && !standing.earlier;
    this.redo.title = standing.redo ? `Redo: ${standing.redo}` : "Redo the step of the study that was taken back last";
    this.add.disabled = standing.locked;
    this.remove.disabled = standing.locked || standing.shown === 0;
    this.next.disabled = standing.problems === 0;
    this.everything.hidden = !standing.filtered && !standing.sorted;
    const words = [counted(standing.rows, "row")];
    if (standing.filtered) words.unshift(`${standing.shown} shown of`);
    const parts = [words.join(" ")];
    if (standing.unsaved) parts.push(`${counted(standing.unsaved, "row")} changed, not saved`);
    if (standing.problems) parts.push(counted(standing.problems, "problem"));
    if (standing.doubts) parts.push(`${standing.doubts} to look at`);
    this.state.textContent = standing.saving ? "Saving…" : parts.join(" · ");
  }

  /** @param {string} words @param {""|"problem"|"doubt"} [kind] */
  tell(words, kind = "") {
    this.message.textContent = words;
    this.message.dataset.kind = kind;
  }

  /** Say something and offer what can be done about it.
   * @param {string} words @param {string} offer @param {() => void} act
   */
  offer(words, offer, act) {
    this.tell(`${words} `);
    this.message.append(button(offer, act));
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
export function counted(count, noun) {
  // Thousands stand apart by a narrow space, as in the report.
  return `${count.toLocaleString("en").replaceAll(",", "\u202f")} ${noun}${count === 1 ? "" : "s"}`;
}
