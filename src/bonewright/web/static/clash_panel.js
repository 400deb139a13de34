// @ts-check
// Two people changed one cell: both values, side by side, and a choice; for many cells a
// choice for all of them at once.

/** @typedef {import("./server.js").Table} Table */
/**
 * @typedef {{row_id: string, index: number, column: string|null, before: string,
 *   yours: string, on_disk: string}} Difference
 * @typedef {{difference: Difference, value: string}} Choice
 */

const MOST_SHOWN = 200;

export class ClashPanel {
  constructor() {
    this.element = document.createElement("div");
    this.element.className = "clash";
    this.element.hidden = true;
    this.element.tabIndex = -1;
    this.element.setAttribute("role", "group");
    this.element.setAttribute("aria-label", "Changed by you and on disk");
  }

  clear() {
    this.element.hidden = true;
    this.element.replaceChildren();
  }

  /**
   * @param {Difference[]} differences
   * @param {Table} table
   * @param {(choices: Choice[]) => void} choose
   */
  show(differences, table, choose) {
    this.element.replaceChildren();
    this.element.hidden = differences.length === 0;
    if (differences.length === 0) return;
    const grid = document.createElement("table");
    const caption = grid.createCaption();
    caption.textContent = "Changed by you and on disk: choose what stands, then save again";
    const head = grid.createTHead().insertRow();
    for (const words of ["Row", "Column", "Before", "Yours", "On disk"]) {
      const cell = document.createElement("th");
      cell.scope = "col";
      cell.textContent = words;
      head.append(cell);
    }
    const body = grid.createTBody();
    const shown = differences.slice(0, MOST_SHOWN);
    for (const [number, difference] of shown.entries()) {
      this.#line(body.insertRow(), difference, `clash-${table.name}-${number}`, table, choose);
    }
    const cells = differences.filter((difference) => difference.column !== null);
    if (cells.length > 1) this.element.append(this.#forAll(cells, choose));
    this.element.append(grid);
    if (shown.length < differences.length) {
      const more = document.createElement("p");
      more.textContent = `${differences.length - shown.length} more differ; yours stand for now.`;
      this.element.append(more);
    }
    this.element.focus();
  }

  /** @param {Difference[]} cells @param {(choices: Choice[]) => void} choose */
  #forAll(cells, choose) {
    const line = document.createElement("p");
    for (const [words, side] of /** @type {const} */ ([["Take all of mine", "yours"], ["Take all on disk", "on_disk"]])) {
      const made = document.createElement("button");
      made.type = "button";
      made.textContent = words;
      made.addEventListener("click", () => {
        for (const field of this.element.querySelectorAll(`input[value=${side}]`)) {
          /** @type {HTMLInputElement} */ (field).checked = true;
        }
        choose(cells.map((difference) => ({ difference, value: difference[side] })));
      });
      line.append(made, " ");
    }
    return line;
  }

  /**
   * @param {HTMLTableRowElement} line @param {Difference} difference @param {string} name
   * @param {Table} table @param {(choices: Choice[]) => void} choose
   */
  #line(line, difference, name, table, choose) {
    const title = table.columns.find((column) => column.name === difference.column)?.title;
    line.insertCell().textContent = difference.row_id || `row ${difference.index + 2}`;
    line.insertCell().textContent = title ?? difference.column ?? "whole row";
    line.insertCell().textContent = difference.before;
    if (difference.column === null) {
      line.insertCell().textContent = difference.yours;
      line.insertCell().textContent = `${difference.on_disk} (the row is kept; delete it if it should go)`;
      return;
    }
    for (const side of /** @type {const} */ (["yours", "on_disk"])) {
      const value = difference[side];
      const label = document.createElement("label");
      const field = document.createElement("input");
      field.type = "radio";
      field.name = name;
      field.value = side;
      field.checked = side === "yours";
      field.addEventListener("change", () => choose([{ difference, value }]));
      label.append(field, ` ${value === "" ? "(empty)" : value}`);
      line.insertCell().append(label);
    }
  }
}
