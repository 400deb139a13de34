// @ts-check
// The rows of a sheet as they stand in the page: every change can be taken back and made
// again, and what differs from the disk can be told without looking at every row.

/** @typedef {import("./server.js").Row} Row */
/** @typedef {{row: Row, place: number, from: string, to: string}} CellChange */
/** @typedef {{index: number, row: Row}} Placed */
/** @typedef {{label: string, cells: CellChange[], inserted: Placed[], removed: Placed[]}} Change */
/**
 * What is not saved yet, told against the version that was read.
 * @typedef {{version: string, header: string[], changed: Row[],
 *   added: {after: number, cells: readonly string[]}[], removed: number[]}} Edits
 */

const HEADER_NUMBER = 1;

/** A row's cells are never changed in place, so that two states can be compared by identity. */
export class SheetRows {
  /** @param {Row[]} rows */
  constructor(rows) {
    /** @type {Row[]} */
    this.rows = rows.map((row) => ({ number: row.number, cells: row.cells }));
    /** @type {Change[]} */
    this.done = [];
    /** @type {Change[]} */
    this.undone = [];
    /** @type {Map<Row, readonly string[]>} the cells of each row as they stand on disk */
    this.saved = new Map(this.rows.map((row) => [row, row.cells]));
    /** @type {Set<Row>} rows of the sheet that may differ from the disk */
    this.touched = new Set();
    /** @type {Set<Row>} rows of the disk that the sheet has no more */
    this.gone = new Set();
  }

  /**
   * A sheet of rows that differ from the disk without a step that could be undone.
   * @param {Row[]} rows each with its number on disk, null if it is not there
   * @param {Row[]} standing the rows on disk that are other here, or gone
   * @returns {SheetRows}
   */
  static against(rows, standing) {
    const made = new SheetRows(rows);
    const other = new Map(standing.map((row) => [row.number, row]));
    for (const row of made.rows) {
      const onDisk = other.get(row.number);
      if (row.number === null) made.saved.delete(row);
      else if (onDisk) made.saved.set(row, onDisk.cells);
      if (row.number === null || onDisk) made.touched.add(row);
      other.delete(row.number);
    }
    for (const row of other.values()) {
      made.saved.set(row, row.cells);
      made.gone.add(row);
    }
    return made;
  }

  /**
   * Go on from another sheet of the same columns: what was done there can be taken back here,
   * but for steps on rows that are gone.
   * @param {SheetRows} other @param {number} key the place of the rows' names
   */
  takeSteps(other, key) {
    const mine = named(this.rows, key);
    /** @type {Map<Row, Row>} */
    const here = new Map();
    for (const [name, row] of named(other.rows, key)) {
      const same = mine.get(name);
      if (same) here.set(row, same);
    }
    /** @param {Change} change */
    const known = ({ cells, inserted, removed }) =>
      removed.length === 0 && [...cells, ...inserted].every(({ row }) => here.has(row));
    /** @param {Change[]} steps */
    const lastKnown = (steps) => steps.slice(steps.findLastIndex((change) => !known(change)) + 1).map((change) => ({
      ...change,
      cells: change.cells.map((cell) => ({ ...cell, row: /** @type {Row} */ (here.get(cell.row)) })),
      inserted: change.inserted.map(({ index, row }) => ({ index, row: /** @type {Row} */ (here.get(row)) })),
    }));
    this.done = lastKnown(other.done);
  }

  /** How many rows differ from the state on disk. */
  get unsaved() {
    let count = this.gone.size;
    for (const row of this.touched) if (this.differs(row)) count += 1;
    return count;
  }

  /** Whether a row differs from the disk. @param {Row} row */
  differs(row) {
    const saved = this.saved.get(row);
    if (!saved) return true;
    return saved !== row.cells && saved.some((cell, place) => cell !== row.cells[place]);
  }

  /**
   * The cell's text on disk, or null for a row that is not there yet.
   * @param {Row} row @param {number} place
   * @returns {string|null}
   */
  onDisk(row, place) {
    return this.saved.get(row)?.[place] ?? null;
  }

  /** @param {Partial<Change> & {label: string}} parts */
  apply(parts) {
    const change = { cells: [], inserted: [], removed: [], ...parts };
    if (change.cells.length + change.inserted.length + change.removed.length === 0) return;
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

  /**
   * What differs from the version that was read.
   * @param {string} version @param {string[]} header
   * @param {{row: Row, place: number, value: string}} [typing] text in the open cell
   * @returns {Edits}
   */
  edits(version, header, typing) {
    /** @param {Row} row */
    const cellsOf = (row) =>
      typing?.row === row ? row.cells.with(typing.place, typing.value) : row.cells;
    const changed = [...this.touched].filter((row) => this.saved.has(row) && this.differs(row));
    if (typing && this.saved.has(typing.row) && !changed.includes(typing.row)) {
      changed.push(typing.row);
    }
    const added = [];
    let after = HEADER_NUMBER;
    for (const row of this.rows) {
      if (this.saved.has(row)) after = row.number ?? after;
      else added.push({ after, cells: cellsOf(row) });
    }
    return {
      version,
      header,
      changed: changed.map((row) => ({ number: row.number, cells: cellsOf(row) })),
      added,
      removed: [...this.gone].map((row) => /** @type {number} */ (row.number)),
    };
  }

  /** Rows without any text: saving leaves them out. */
  blank() {
    return [...this.touched].filter((row) => row.cells.every((cell) => cell.trim() === ""));
  }

  /**
   * What was sent now stands on disk, numbered from below the header; what was done since
   * is not saved yet.
   * @param {Map<Row, readonly string[]>} sent the cells of each row as they were sent, in order
   */
  markSaved(sent) {
    for (const row of [...this.rows, ...this.gone]) row.number = null;
    let number = HEADER_NUMBER;
    for (const row of sent.keys()) row.number = number += 1;
    this.saved = sent;
    this.touched = new Set(this.rows.filter((row) => sent.get(row) !== row.cells));
    const standing = new Set(this.rows);
    this.gone = new Set([...sent.keys()].filter((row) => !standing.has(row)));
  }

  /** Put the columns in another order, in what can be taken back too.
   * @param {number[]} places for each new place the old one
   */
  reorder(places) {
    const every = new Set([...this.rows, ...this.saved.keys()]);
    for (const change of [...this.done, ...this.undone]) {
      for (const { row } of [...change.cells, ...change.inserted, ...change.removed]) every.add(row);
      for (const cell of change.cells) cell.place = places.indexOf(cell.place);
    }
    for (const row of every) {
      const same = this.saved.get(row) === row.cells;
      const saved = this.saved.get(row);
      row.cells = places.map((place) => row.cells[place]);
      if (saved) this.saved.set(row, same ? row.cells : places.map((place) => saved[place]));
    }
  }

  /** @param {Change} change */
  #perform(change) {
    const leaving = new Set(change.removed.map(({ row }) => row));
    if (leaving.size) {
      this.rows = this.rows.filter((row) => !leaving.has(row));
      for (const row of leaving) {
        this.touched.delete(row);
        if (this.saved.has(row)) this.gone.add(row);
      }
    }
    if (change.inserted.length) {
      const coming = [...change.inserted].sort((one, other) => one.index - other.index);
      /** @type {Row[]} */
      const rows = [];
      let taken = 0;
      for (const { index, row } of coming) {
        const until = Math.min(this.rows.length, index - rows.length + taken);
        while (taken < until) rows.push(this.rows[taken++]);
        rows.push(row);
        this.touched.add(row);
        this.gone.delete(row);
      }
      while (taken < this.rows.length) rows.push(this.rows[taken++]);
      this.rows = rows;
    }
    for (const { row, place, to } of change.cells) {
      row.cells = row.cells.with(place, to);
      if (!leaving.has(row)) this.touched.add(row);
    }
  }
}

/** Rows by their name and how many of that name stand before. @param {Row[]} rows @param {number} key */
function named(rows, key) {
  /** @type {Map<string, number>} */
  const seen = new Map();
  return new Map(rows.map((row) => {
    const name = row.cells[key]?.trim() ?? "";
    const count = (seen.get(name) ?? 0) + 1;
    seen.set(name, count);
    return /** @type {[string, Row]} */ ([`${count} ${name}`, row]);
  }));
}

/** @param {Change} change @returns {Change} */
function reversed(change) {
  return {
    label: change.label,
    cells: change.cells
      .map(({ row, place, from, to }) => ({ row, place, from: to, to: from }))
      .reverse(),
    inserted: change.removed,
    removed: change.inserted,
  };
}
