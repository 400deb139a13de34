// @ts-check
// Two people changed one cell: both values, side by side, and a choice.

/** @typedef {import("./server.js").Table} Table */
/**
 * @typedef {{row_id: string, index: number, column: string|null, before: string,
 *   yours: string, on_disk: string}} Difference
 */

export class ClashPanel {
  constructor() {
    this.element = document.createElement("div");
    this.element.className = "clash";
    this.element.hidden = true;
  }

  clear() {
    this.element.hidden = true;
    this.element.replaceChildren();
  }

  /**
   * @param {Difference[]} differences
   * @param {Table} table
   * @param {(difference: Difference, value: string) => void} choose
   */
  show(differences, table, choose) {
    this.element.replaceChildren();
    this.element.hidden = differences.length === 0;
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
    differences.forEach((difference, number) => {
      const line = body.insertRow();
      const title = table.columns.find((column) => column.name === difference.column)?.title;
      line.insertCell().textContent = difference.row_id || `row ${difference.index + 2}`;
      line.insertCell().textContent = title ?? difference.column ?? "whole row";
      line.insertCell().textContent = difference.before;
      if (difference.column === null) {
        line.insertCell().textContent = difference.yours;
        line.insertCell().textContent = `${difference.on_disk} (the row is kept; delete it if it should go)`;
        return;
      }
      const name = `clash-${table.name}-${number}`;
      line.insertCell().append(option(name, difference.yours, true, () => choose(difference, difference.yours)));
      line.insertCell().append(option(name, difference.on_disk, false, () => choose(difference, difference.on_disk)));
    });
    this.element.append(grid);
  }
}

/** @param {string} name @param {string} value @param {boolean} on @param {() => void} act */
function option(name, value, on, act) {
  const label = document.createElement("label");
  const field = document.createElement("input");
  field.type = "radio";
  field.name = name;
  field.checked = on;
  field.addEventListener("change", act);
  label.append(field, ` ${value === "" ? "(empty)" : value}`);
  return label;
}
