// @ts-check
// A table of the study: read, corrected, checked while it is typed in, saved.

import { CellEditor } from "./cell_editor.js";
import { ClashPanel } from "./clash_panel.js";
import { Refused, read, send } from "./server.js";
import { SheetBar } from "./sheet_bar.js";
import { SheetGrid } from "./sheet_grid.js";
import { SheetRows } from "./sheet_rows.js";

/** @typedef {import("./server.js").Table} Table */
/** @typedef {import("./server.js").Problem} Problem */
/** @typedef {import("./server.js").Doubt} Doubt */

const CHECK_DELAY_MS = 250;

export class StudySheet extends HTMLElement {
  /** @type {Table|null} */
  table = null;
  /** @type {SheetRows} */
  rows = new SheetRows([]);
  /** @type {Problem[]} */
  problems = [];
  /** @type {Doubt[]} */
  doubts = [];
  /** Problems in the other tables. */
  elsewhere = 0;
  /** @type {CellEditor|null} */
  editor = null;
  /** @type {ReturnType<typeof setTimeout>|undefined} */
  timer = undefined;
  /** @type {AbortController|null} */
  checking = null;
  saving = false;
  /** @type {Promise<void>} */
  ready = Promise.resolve();

  bar = new SheetBar({
    save: () => void this.save(),
    undo: () => this.#takeBack("undo"),
    add: () => this.#addRow(),
    remove: () => this.#deleteRow(),
    find: (words) => this.grid.find(words),
  });
  clash = new ClashPanel();
  grid = new SheetGrid(this);
  lists = document.createElement("div");

  connectedCallback() {
    const { bar, clash, grid, lists } = this;
    this.append(bar.element, bar.message, clash.element, grid.element, lists);
    this.addEventListener("keydown", (event) => this.#key(event));
    this.ready = this.load();
  }

  /** The name of the table. */
  get name() {
    return this.getAttribute("name") ?? "";
  }

  /** Whether something in this sheet is not saved yet. */
  get dirty() {
    return this.rows.unsaved > 0 || this.editor !== null;
  }

  /** Read the table from the server and show it. */
  async load() {
    try {
      const [table, doubts] = await Promise.all([
        read(`/api/tables/${this.name}`),
        read(`/api/tables/${this.name}/doubts`),
      ]);
      this.table = /** @type {Table} */ (table);
      this.doubts = doubts.doubts;
      this.rows = new SheetRows(this.table.rows);
      this.clash.clear();
      this.grid.show(this.table, this.rows);
      this.#drawSuggestions();
      if (this.table.locked) this.bar.tell(this.table.locked, "doubt");
      await this.check();
      this.#drawBar();
    } catch (fault) {
      this.bar.tell(wordsOf(fault), "problem");
    }
    if (this.dataset.ready !== "yes" && this.rows.rows.length === 0 && !this.#onlyOneOpen()) {
      this.#drawer(false);
    }
    this.dataset.ready = "yes";
  }

  /** Open or close the drawer the sheet lies in. @param {boolean} open */
  #drawer(open) {
    const drawer = this.closest("details");
    if (drawer) drawer.open = open;
  }

  /** Whether no other drawer of this view stands open: one always does. */
  #onlyOneOpen() {
    return document.querySelectorAll("details.sheet-drawer[open]").length <= 1;
  }

  /** Follow the server: read the table again if it changed on disk, mark doubtful rows anew.
   * @param {string|undefined} version
   */
  async follow(version) {
    await this.ready;
    if (this.saving || !this.table) return;
    if (version !== undefined && version !== this.table.version) {
      if (!this.dirty) {
        await this.load();
        return;
      }
      this.bar.tell("This table was also changed on disk. Saving will show you both.", "doubt");
    }
    this.doubts = (await read(`/api/tables/${this.name}/doubts`)).doubts;
    this.grid.mark(this.problems, this.doubts);
  }

  /** Open the place a link names. @param {number|null} number @param {string|null} column */
  async goTo(number, column) {
    await this.ready;
    this.#drawer(true);
    const index = this.rows.rows.findIndex((row) => row.number === number);
    const place = column ? (this.table?.header.indexOf(column) ?? -1) : 0;
    if (index < 0) {
      this.scrollIntoView({ block: "start" });
      return;
    }
    this.grid.focusCell(index, Math.max(place, 0));
    this.grid.cell(index, Math.max(place, 0))?.scrollIntoView({ block: "center" });
  }

  /** Open a cell. @param {number} index @param {number} place @param {string} [typed] */
  openCell(index, place, typed) {
    if (!this.table || this.editor || this.table.locked) return;
    const cell = this.grid.cell(index, place);
    const column = this.table.columns[place];
    if (!cell) return;
    const before = this.rows.rows[index].cells[place];
    this.editor = new CellEditor(cell, {
      column,
      value: typed ?? before,
      list: column.refers_to ? this.#listId(column.name) : null,
      note: this.grid.noteId,
      onType: (value) => this.#checkSoon({ index, place, value }),
      onClose: (value, move) => this.#closeCell({ index, place, before, value, move }),
    });
    if (typed !== undefined) this.#checkSoon({ index, place, value: typed });
  }

  /** @param {{index: number, place: number, before: string, value: string|null,
   *   move: "down"|"up"|"right"|"left"|"stay"}} closing */
  #closeCell({ index, place, before, value, move }) {
    const hadFocus = this.editor?.field === document.activeElement;
    this.editor = null;
    if (value !== null && value !== before) {
      this.rows.apply({ kind: "cells", changes: [{ index, place, from: before, to: value }] });
    }
    this.grid.redrawCell(index, place);
    this.#drawBar();
    this.#checkSoon();
    if (!hadFocus && move === "stay") return;
    const last = (this.table?.header.length ?? 1) - 1;
    if (move === "right" && place < last) {
      this.grid.focusCell(index, place + 1);
      this.openCell(index, place + 1);
    } else if (move === "left" && place > 0) {
      this.grid.focusCell(index, place - 1);
      this.openCell(index, place - 1);
    } else {
      const step = { down: 1, up: -1, left: 0, right: 0, stay: 0 }[move];
      this.grid.focusCell(index + step, place);
    }
  }

  /** @param {string[][]} block @param {number} index @param {number} place */
  paste(block, index, place) {
    if (!this.table || this.table.locked) return;
    const width = this.table.header.length;
    const changes = [];
    for (let down = 0; down < block.length; down += 1) {
      if (index + down >= this.rows.rows.length) this.#insert(this.rows.rows.length, false);
      for (let across = 0; across < block[down].length && place + across < width; across += 1) {
        const from = this.rows.rows[index + down].cells[place + across];
        changes.push({
          index: index + down,
          place: place + across,
          from,
          to: block[down][across],
        });
      }
    }
    this.rows.apply({ kind: "cells", changes });
    this.#redraw(index, place);
  }

  /** Empty one cell. @param {number} index @param {number} place */
  emptyCell(index, place) {
    const from = this.rows.rows[index]?.cells[place];
    if (!from || this.table?.locked) return;
    this.rows.apply({ kind: "cells", changes: [{ index, place, from, to: "" }] });
    this.grid.redrawCell(index, place);
    this.grid.focusCell(index, place);
    this.#drawBar();
    this.#checkSoon();
  }

  /** @param {number} index @param {boolean} [draw] */
  #insert(index, draw = true) {
    if (!this.table) return;
    const cells = this.table.header.map(() => "");
    this.rows.apply({ kind: "insert", index, row: { number: null, cells } });
    if (draw) this.#redraw(index, 0);
  }

  #addRow() {
    this.grid.find("");
    this.bar.search.value = "";
    this.#insert(this.rows.rows.length);
    this.openCell(this.rows.rows.length - 1, 0);
  }

  #deleteRow() {
    const { index, place } = this.grid.at;
    const row = this.rows.rows[index];
    if (!row) return;
    this.rows.apply({ kind: "delete", index, row });
    this.#redraw(Math.min(index, this.rows.rows.length - 1), place);
    this.bar.tell(`Deleted the row ${row.cells[0] || "without a name"}. Undo brings it back.`);
  }

  /** @param {"undo"|"redo"} way */
  #takeBack(way) {
    const change = way === "undo" ? this.rows.undo() : this.rows.redo();
    if (!change) return;
    const at = change.kind === "cells" ? change.changes[0] : { index: change.index, place: 0 };
    this.#redraw(Math.min(at.index, this.rows.rows.length - 1), at.place);
    this.bar.tell("");
  }

  /** Check the study as it would be if this were saved.
   * @param {{index: number, place: number, value: string}} [typing]
   */
  async check(typing) {
    if (!this.table) return;
    this.checking?.abort();
    this.checking = new AbortController();
    const signal = this.checking.signal;
    try {
      const answer = await send("/api/check", { tables: { [this.name]: this.#state(typing) } }, signal);
      this.problems = answer.problems.filter(
        (/** @type {Problem} */ problem) => problem.table === this.name,
      );
      this.elsewhere = answer.problems.length - this.problems.length;
      this.grid.mark(this.problems, this.doubts);
      this.#drawBar();
    } catch (fault) {
      if (!signal.aborted) this.bar.tell(wordsOf(fault), "problem");
    }
  }

  /** @param {{index: number, place: number, value: string}} [typing] */
  #checkSoon(typing) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.check(typing), CHECK_DELAY_MS);
  }

  /** @param {{index: number, place: number, value: string}} [typing] */
  #state(typing) {
    const rows = this.rows.rows.map((row, index) => {
      if (!typing || typing.index !== index) return row;
      const cells = [...row.cells];
      cells[typing.place] = typing.value;
      return { number: row.number, cells };
    });
    return { header: this.table?.header ?? [], rows };
  }

  /** Save the table; if somebody else changed it, show both. */
  async save() {
    if (!this.table || this.saving) return;
    this.editor?.close(this.editor.field.value, "stay");
    this.saving = true;
    this.#drawBar();
    try {
      const version = this.table.version;
      const saved = await send(`/api/tables/${this.name}`, { version, ...this.#state() });
      this.saving = false;
      const { index, place } = this.grid.at;
      const hadFocus = this.grid.holds(document.activeElement);
      await this.load();
      if (hadFocus) this.grid.focusCell(index, place);
      this.#tellSaved();
      if (saved.note) this.bar.tell(saved.note, "doubt");
      this.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
    } catch (fault) {
      if (fault instanceof Refused && fault.status === 409) this.#showClash(fault.body);
      else this.bar.tell(`${wordsOf(fault)} What you typed stays here, not saved yet.`, "problem");
    } finally {
      this.saving = false;
      this.#drawBar();
    }
  }

  /** Say that it is saved, and whether problems keep the results from following. */
  #tellSaved() {
    if (this.elsewhere + this.problems.length === 0) {
      this.bar.tell("Saved.");
      return;
    }
    const here = this.problems.length;
    const words = here
      ? `${here} ${here === 1 ? "problem" : "problems"} in this table`
      : `${this.elsewhere} ${this.elsewhere === 1 ? "problem" : "problems"} in other tables`;
    this.bar.tell(`Saved, but not recomputed: ${words}.`, "problem");
  }

  /** @param {any} body */
  async #showClash(body) {
    const onDisk = /** @type {Table} */ (await read(`/api/tables/${this.name}`));
    const table = { ...onDisk, version: body.version, header: body.header };
    this.table = table;
    this.rows = SheetRows.against(body.rows, onDisk.rows, table.header.indexOf(table.key));
    this.grid.show(table, this.rows);
    this.bar.tell(`${body.error} ${body.remedy}`, "doubt");
    this.clash.show(body.differences, table, (difference, value) => {
      const place = table.header.indexOf(difference.column ?? "");
      const from = this.rows.rows[difference.index].cells[place];
      this.rows.apply({ kind: "cells", changes: [{ index: difference.index, place, from, to: value }] });
      this.#redraw(difference.index, place, false);
    });
    this.#drawBar();
    await this.check();
  }

  /** @param {number} index @param {number} place @param {boolean} [focus] */
  #redraw(index, place, focus = true) {
    if (this.table) this.grid.show(this.table, this.rows);
    this.grid.mark(this.problems, this.doubts);
    if (focus) this.grid.focusCell(index, place);
    this.#drawBar();
    this.#checkSoon();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const command = event.ctrlKey || event.metaKey;
    if (command && event.key === "s") {
      event.preventDefault();
      void this.save();
    } else if (command && this.grid.holds(event.target) && "zy".includes(event.key.toLowerCase())) {
      event.preventDefault();
      this.#takeBack(event.key.toLowerCase() === "z" && !event.shiftKey ? "undo" : "redo");
    }
  }

  #drawBar() {
    this.bar.draw({
      rows: this.rows.rows.length,
      unsaved: this.rows.unsaved,
      problems: this.problems.length,
      saving: this.saving,
      editing: this.editor !== null,
      undoable: this.rows.done.length > 0,
      locked: Boolean(this.table?.locked),
    });
    this.classList.toggle("unsaved", this.rows.unsaved > 0);
    const count = this.closest("details")?.querySelector(".sheet-count");
    const n = this.rows.rows.length;
    if (count) count.textContent = n === 0 ? "empty" : `${n} ${n === 1 ? "row" : "rows"}`;
  }

  #drawSuggestions() {
    if (!this.table) return;
    const lists = Object.entries(this.table.suggestions).map(([column, names]) => {
      const list = document.createElement("datalist");
      list.id = this.#listId(column);
      list.append(...names.map((name) => new Option(name, name)));
      return list;
    });
    this.lists.replaceChildren(...lists);
  }

  /** @param {string} column */
  #listId(column) {
    return `list-${this.name}-${column}`;
  }
}

/** @param {unknown} fault */
function wordsOf(fault) {
  return fault instanceof Error ? fault.message : String(fault);
}

customElements.define("study-sheet", StudySheet);
