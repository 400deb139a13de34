// @ts-check
// Which rows of a sheet are shown, and in what order. The file keeps its own order.

/** @typedef {import("./server.js").Row} Row */
/** @typedef {import("./server.js").Column} Column */
/**
 * @typedef {{kind: "holds"|"is", words: string} | {kind: "filled"} | {kind: "empty"}} Filter
 */

const WORDS = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });

export class SheetOrder {
  /** @type {Row[]} the rows shown, from the top */
  shown = [];
  /** @type {{place: number, down: boolean}|null} */
  sorted = null;
  /** @type {Map<number, Filter>} */
  filters = new Map();
  sought = "";
  /** @type {((row: Row) => boolean)|null} rows of one kind only, such as those with problems */
  kind = null;

  /** Whether every row is shown as it stands in the file. */
  get plain() {
    return !this.sorted && this.filters.size === 0 && this.sought === "" && !this.kind;
  }

  /** Whether rows may be hidden. */
  get filtered() {
    return this.filters.size > 0 || this.sought !== "" || this.kind !== null;
  }

  clear() {
    this.sorted = null;
    this.filters.clear();
    this.sought = "";
    this.kind = null;
  }

  /** Choose and sort the rows anew. @param {Row[]} rows @param {Column[]} columns */
  arrange(rows, columns) {
    this.shown = this.filtered ? rows.filter((row) => this.#passes(row)) : [...rows];
    if (!this.sorted) return;
    const { place, down } = this.sorted;
    const kind = columns[place]?.kind;
    const compare = kind === "number" || kind === "integer" ? byNumber : byWords;
    this.shown.sort((one, other) => {
      const a = one.cells[place].trim();
      const b = other.cells[place].trim();
      // Empty cells stand last, whichever way is up.
      if (a === "" || b === "") return Number(a === "") - Number(b === "");
      return down ? compare(b, a) : compare(a, b);
    });
  }

  /**
   * Follow rows that came and went, without moving those being worked on.
   * @param {Row[]} rows @param {Column[]} columns @param {Set<Row>} came
   * @param {number} line where rows that came are shown
   */
  follow(rows, columns, came, line) {
    if (this.plain) {
      this.arrange(rows, columns);
      return;
    }
    const standing = new Set(rows);
    const kept = this.shown.filter((row) => standing.has(row) && !came.has(row));
    kept.splice(Math.min(line, kept.length), 0, ...came);
    this.shown = kept;
  }

  /** @param {Row} row */
  #passes(row) {
    if (this.kind && !this.kind(row)) return false;
    if (this.sought && !row.cells.some((cell) => cell.toLowerCase().includes(this.sought))) {
      return false;
    }
    for (const [place, filter] of this.filters) {
      const cell = row.cells[place].trim();
      if (filter.kind === "empty" && cell !== "") return false;
      if (filter.kind === "filled" && cell === "") return false;
      if (filter.kind === "is" && cell !== filter.words) return false;
      if (filter.kind === "holds" && !cell.toLowerCase().includes(filter.words.toLowerCase())) {
        return false;
      }
    }
    return true;
  }
}

/** @param {string} a @param {string} b */
function byWords(a, b) {
  return WORDS.compare(a, b);
}

/** @param {string} a @param {string} b */
function byNumber(a, b) {
  const [x, y] = [a, b].map((text) => Number(text.replace(",", ".")));
  if (Number.isNaN(x) || Number.isNaN(y)) {
    // What is no number stands after the numbers.
    return Number(Number.isNaN(x)) - Number(Number.isNaN(y)) || WORDS.compare(a, b);
  }
  return x - y;
}
