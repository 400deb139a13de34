// @ts-check
// The rows of a sheet as they stand in the page, with every change undoable.

/** @typedef {import("./server.js").Row} Row */
/** @typedef {{index: number, place: number, from: string, to: string}} CellChange */
/**
 * @typedef {{kind: "cells", changes: CellChange[]}
 *   | {kind: "insert", index: number, row: Row}
 *   | {kind: "delete", index: number, row: Row}} Change
 */

export class SheetRows {
  /** @param {Row[]} rows */
  constructor(rows) {
    /** @type {Row[]} */
    this.rows = rows.map((row) => ({ number: row.number, cells: [...row.cells] }));
    /** @type {Change[]} */
    this.done = [];
    /** @type {Change[]} */
    this.undone = [];
    /** @type {Map<Row, string[]>} the cells of each row as they stand on disk */
    this.saved = new Map(this.rows.map((row) => [row, [...row.cells]]));
  }

  /**
   * Rows joined from the page and the disk, compared with what stands on disk.
   * @param {Row[]} rows @param {Row[]} onDisk @param {number} key place of the naming column
   * @returns {SheetRows}
   */
  static against(rows, onDisk, key) {
    const made = new SheetRows(rows);
    made.saved.clear();
    const waiting = [...onDisk];
    for (const row of made.rows) {
      const found = waiting.findIndex((other) => other.cells[key] === row.cells[key]);
      if (found < 0) continue;
      const [other] = waiting.splice(found, 1);
      row.number = other.number;
      made.saved.set(row, [...other.cells]);
    }
    for (const other of waiting) made.saved.set(other, [...other.cells]);
    return made;
  }

  /**
   * How many rows differ from the state on disk.
   * @returns {number}
   */
  get unsaved() {
    let count = 0;
    let standing = 0;
    for (const row of this.rows) {
      const saved = this.saved.get(row);
      if (saved) standing += 1;
      if (!saved || saved.some((cell, place) => cell !== row.cells[place])) count += 1;
    }
    return count + this.saved.size - standing;
  }

  /**
   * The cell's text on disk, or null for a row that is not there yet.
   * @param {number} index @param {number} place
   * @returns {string|null}
   */
  onDisk(index, place) {
    const saved = this.saved.get(this.rows[index]);
    return saved ? saved[place] : null;
  }

  /** @param {Change} change */
  apply(change) {
    this.#perform(change);
    this.done.push(change);
    this.undone = [];
  }

  /** @returns {Change|null} the change that was taken back */
  undo() {
    const change = this.done.pop();
    if (!change) return null;
    this.#perform(reversed(change));
    this.undone.push(change);
    return change;
  }

  /** @returns {Change|null} the change that was made again */
  redo() {
    const change = this.undone.pop();
    if (!change) return null;
    this.#perform(change);
    this.done.push(change);
    return change;
  }

  /** @param {Change} change */
  #perform(change) {
    if (change.kind === "cells") {
      for (const { index, place, to } of change.changes) this.rows[index].cells[place] = to;
    } else if (change.kind === "insert") {
      this.rows.splice(change.index, 0, change.row);
    } else {
      this.rows.splice(change.index, 1);
    }
  }
}

/** @param {Change} change @returns {Change} */
function reversed(change) {
  if (change.kind === "insert") return { ...change, kind: "delete" };
  if (change.kind === "delete") return { ...change, kind: "insert" };
  return {
    kind: "cells",
    changes: change.changes
      .map(({ index, place, from, to }) => ({ index, place, from: to, to: from }))
      .reverse(),
  };
}
