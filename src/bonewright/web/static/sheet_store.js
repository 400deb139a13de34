// @ts-check
// A table of the study on its way between the page and the server: read, checked as it would
// be if it were saved, saved. Only what differs from the version read is sent.

import { Refused, read, send } from "./server.js";
import { SheetRows } from "./sheet_rows.js";

/** @typedef {import("./server.js").Table} Table */
/** @typedef {import("./server.js").Row} Row */
/** @typedef {import("./server.js").Problem} Problem */
/** @typedef {import("./server.js").Doubt} Doubt */
/** @typedef {{row: Row, place: number, value: string}} Typing */

const FORGOTTEN = 410;
const CLASHED = 409;

export class SheetStore {
  /** @type {Table|null} */
  table = null;
  rows = new SheetRows([]);
  /** @type {{problem: Problem, row: Row|null}[]} problems of this table, each with its row */
  problems = [];
  /** @type {Doubt[]} */
  doubts = [];
  /** Problems in the other tables. */
  elsewhere = 0;
  saving = false;
  /** @type {AbortController|null} */
  checking = null;

  /** @param {string} name */
  constructor(name) {
    this.name = name;
  }

  /** Read the table as it stands on disk; what is not saved is let go. */
  async load() {
    this.checking?.abort();
    this.table = /** @type {Table} */ (await read(`/api/tables/${this.name}`));
    this.rows = new SheetRows(this.table.rows);
    this.doubts = this.table.doubts;
    this.#take(this.table.problems, this.rows.rows);
  }

  async readDoubts() {
    this.doubts = (await read(`/api/tables/${this.name}/doubts`)).doubts;
  }

  /**
   * Check the study as it would be if this were saved.
   * @param {Typing} [typing] text in the open cell
   * @returns {Promise<boolean>} whether the answer is still of interest
   */
  async check(typing) {
    if (!this.table) return false;
    this.checking?.abort();
    const { signal } = (this.checking = new AbortController());
    const rows = [...this.rows.rows];
    try {
      const edits = this.rows.edits(this.table.version, this.table.header, typing);
      const answer = await this.#orWhole("/api/check", (state) => ({ tables: { [this.name]: state } }), edits, typing, signal);
      if (signal.aborted) return false;
      this.#take(answer.problems, rows);
      return true;
    } catch (fault) {
      if (signal.aborted) return false;
      throw fault;
    }
  }

  /**
   * Save; if somebody else changed the table, both states come back joined and are taken in.
   * @param {() => void} closeCell called before the rows are replaced
   * @returns {Promise<{clash: any|null, note: string}>}
   */
  async save(closeCell) {
    const removed = this.rows.blank();
    if (removed.length) {
      const blank = new Set(removed);
      const places = this.rows.rows.flatMap((row, index) => (blank.has(row) ? [{ index, row }] : []));
      this.rows.apply({ label: "leave out empty rows", removed: places });
    }
    this.saving = true;
    try {
      for (;;) {
        const table = /** @type {Table} */ (this.table);
        const edits = this.rows.edits(table.version, table.header);
        const sent = new Map(this.rows.rows.map((row) => [row, row.cells]));
        try {
          const saved = await this.#orWhole(`/api/tables/${this.name}`, (state) => ({ ...state, version: table.version }), edits);
          if (!this.#settle(saved, sent)) await this.load();
          return { clash: null, note: saved.note ?? "" };
        } catch (fault) {
          if (!(fault instanceof Refused) || fault.status !== CLASHED || !fault.body.differences) throw fault;
          const onDisk = /** @type {Table} */ (await read(`/api/tables/${this.name}`));
          closeCell();
          // What was typed since it was sent is not in what was joined: it is sent as well.
          if (!this.#isAsSent(sent)) continue;
          this.#takeJoined(fault.body, onDisk);
          return { clash: fault.body, note: "" };
        }
      }
    } finally {
      this.saving = false;
    }
  }

  /** @param {Map<Row, readonly string[]>} sent */
  #isAsSent(sent) {
    return this.rows.rows.length === sent.size && this.rows.rows.every((row) => sent.get(row) === row.cells);
  }

  /** Take in both states, joined by the server. @param {any} body @param {Table} onDisk */
  #takeJoined(body, onDisk) {
    const before = /** @type {Table} */ (this.table);
    this.table = { ...onDisk, version: body.version, header: body.header, columns: body.columns };
    this.doubts = onDisk.doubts;
    // Not against what was just read: somebody may have saved once more in between.
    const joined = SheetRows.against(body.rows, body.standing);
    const alike = before.header.length === body.header.length && before.header.every((name, at) => name === body.header[at]);
    if (alike) joined.takeSteps(this.rows, body.header.indexOf(before.key));
    this.rows = joined;
  }

  /**
   * Take note that what was sent stands on disk now, its columns perhaps in another order.
   * @param {{version: string, header: string[]}} saved @param {Map<Row, readonly string[]>} sent
   * @returns {boolean} whether the columns are those that were sent
   */
  #settle(saved, sent) {
    const table = /** @type {Table} */ (this.table);
    const places = saved.header.map((name) => table.header.indexOf(name));
    const same = new Set(places).size === table.header.length && !places.includes(-1);
    if (!same) return false;
    table.version = saved.version;
    this.rows.markSaved(sent);
    if (places.some((place, at) => place !== at)) {
      this.rows.reorder(places);
      table.columns = places.map((place) => table.columns[place]);
      table.header = saved.header;
    }
    return true;
  }

  /**
   * Send what differs; if the server no longer knows the version, send everything.
   * @param {string} address @param {(state: object) => object} message
   * @param {import("./sheet_rows.js").Edits} edits @param {Typing} [typing] @param {AbortSignal} [signal]
   */
  async #orWhole(address, message, edits, typing, signal) {
    try {
      return await send(address, message(edits), signal);
    } catch (fault) {
      if (!(fault instanceof Refused) || fault.status !== FORGOTTEN) throw fault;
      const rows = this.rows.rows.map((row) => ({
        number: this.rows.saved.has(row) ? row.number : null,
        cells: typing?.row === row ? row.cells.with(typing.place, typing.value) : row.cells,
      }));
      return send(address, message({ header: this.table?.header, rows }), signal);
    }
  }

  /** @param {Problem[]} problems @param {Row[]} rows the rows that were checked */
  #take(problems, rows) {
    const here = problems.filter((problem) => problem.table === this.name);
    this.elsewhere = problems.length - here.length;
    this.problems = here.map((problem) => ({
      problem,
      row: problem.index === null ? null : (rows[problem.index] ?? null),
    }));
  }
}
