// @ts-check
// What a person changes in a sheet: cells opened and closed, blocks pasted and filled, rows
// added and deleted, changes taken back.

import { CellEditor } from "./cell_editor.js";
import { isAlike } from "./cell_marks.js";
import { counted } from "./sheet_bar.js";
import { deleteChange, pasteChange, repeatChange } from "./sheet_edits.js";

/** @typedef {import("./sheet.js").StudySheet} StudySheet */
/** @typedef {import("./server.js").Row} Row */
/** @typedef {import("./server.js").Problem} Problem */
/** @typedef {import("./sheet_rows.js").Change} Change */

export class SheetEditing {
  /** @type {CellEditor|null} the one cell that is open */
  editor = null;

  /** @param {StudySheet} sheet */
  constructor(sheet) {
    this.sheet = sheet;
  }

  /** Open the active cell. @param {string} [typed] what was typed over it */
  openCell(typed) {
    const { table } = this.sheet.store;
    const { line, place } = this.sheet.selection.active;
    const row = this.sheet.order.shown[line];
    if (!table || !row || this.editor || table.locked) return;
    this.sheet.grid.reveal();
    this.sheet.grid.drawWindow();
    const cell = this.sheet.grid.cell();
    if (!cell) return;
    const column = table.columns[place];
    const before = row.cells[place];
    const over = column.choices.length ? undefined : typed;
    this.sheet.grid.openCell = cell;
    this.editor = new CellEditor(cell, {
      column,
      value: over ?? before,
      list: table.suggestions[column.name] ? this.sheet.listId(column.name) : null,
      note: this.sheet.note.element.id,
      onType: (value) => this.sheet.saving.checkSoon({ row, place, value }),
      onClose: (value, move) => this.#closeCell({ row, place, value, move }),
    });
    if (over !== undefined) this.sheet.saving.checkSoon({ row, place, value: over });
  }

  /** @param {{row: Row, place: number, value: string|null, move: import("./cell_editor.js").Move}} closing */
  #closeCell({ row, place, value, move }) {
    const hadFocus = this.editor?.field === document.activeElement;
    const { block } = this.sheet.selection;
    this.editor = null;
    this.sheet.grid.openCell = null;
    const line = this.sheet.order.shown.indexOf(row);
    if (value !== null && move === "all") {
      const cells = this.sheet.order.shown.slice(block.top, block.bottom + 1).flatMap((one) =>
        Array.from({ length: block.end - block.start + 1 }, (_, across) => ({
          row: one, place: block.start + across, from: one.cells[block.start + across], to: value,
        })),
      );
      this.edit({ label: "fill", cells: cells.filter((cell) => cell.from !== cell.to) });
    } else if (value !== null && value !== row.cells[place]) {
      this.edit({ label: "typing", cells: [{ row, place, from: row.cells[place], to: value }] });
    } else {
      this.sheet.grid.draw();
      this.sheet.drawBar();
      this.sheet.saving.checkSoon();
    }
    if (!hadFocus) return;
    if (move === "all") {
      this.sheet.grid.focusActive();
      return;
    }
    const last = (this.sheet.store.table?.header.length ?? 1) - 1;
    if ((move === "right" && place < last) || (move === "left" && place > 0)) {
      this.sheet.hands.go(line, place + (move === "right" ? 1 : -1));
      this.openCell();
    } else {
      const step = { down: 1, up: -1 }[/** @type {string} */ (move)] ?? 0;
      this.sheet.hands.go(Math.max(0, line + step), place);
    }
  }

  /** Paste a block at the selection. @param {string[][]} pasted */
  paste(pasted) {
    const { table, rows } = this.sheet.store;
    if (!table || table.locked) return;
    const { change, area, words } = pasteChange(table, rows, this.sheet.order, this.sheet.selection.block, pasted);
    this.edit(change);
    this.sheet.selection.select(area);
    this.sheet.grid.focusActive();
    this.sheet.bar.tell(words);
    this.sheet.drawNote();
  }

  /** @param {import("./sheet_selection.js").Spot} spot */
  fillTo(spot) {
    const { block } = this.sheet.selection;
    const place = Math.max(0, spot.place);
    const over = { ...block };
    // Along the way the pointer went farther.
    const down = Math.max(spot.line - block.bottom, block.top - spot.line);
    const across = Math.max(place - block.end, block.start - place);
    if (down >= across) {
      over.top = Math.min(block.top, spot.line);
      over.bottom = Math.max(block.bottom, spot.line);
    } else {
      over.start = Math.min(block.start, place);
      over.end = Math.max(block.end, place);
    }
    this.edit(repeatChange(this.sheet.order, block, over));
    this.sheet.selection.select(over);
    this.sheet.grid.draw();
  }

  /** Make a change and show it. @param {Partial<Change> & {label: string}} change */
  edit(change) {
    const { store } = this.sheet;
    if (!store.table || store.table.locked) return;
    store.rows.apply(change);
    this.#showChange(new Set((change.inserted ?? []).map(({ row }) => row)));
    this.sheet.saving.checkSoon();
  }

  /** @param {Set<Row>} came */
  #showChange(came) {
    this.sheet.order.follow(this.sheet.store.rows.rows, this.sheet.columns(), came, this.sheet.selection.active.line + 1);
    this.sheet.drawMarks();
  }

  /** Where in the file a row below the active one stands. */
  indexBelow() {
    const row = this.sheet.order.shown[this.sheet.selection.active.line];
    return row ? this.sheet.store.rows.rows.indexOf(row) + 1 : this.sheet.store.rows.rows.length;
  }

  /** @param {number} index @param {string[]} [cells] @returns {Row|null} */
  addRow(index, cells) {
    const { table } = this.sheet.store;
    if (!table || table.locked) return null;
    const row = { number: null, cells: cells ?? table.header.map(() => "") };
    if (index === this.sheet.store.rows.rows.length) this.sheet.selection.active = { line: this.sheet.order.shown.length - 1, place: 0 };
    this.edit({ label: "add a row", inserted: [{ index, row }] });
    this.sheet.hands.go(this.sheet.order.shown.indexOf(row), 0);
    if (!cells) this.openCell();
    return row;
  }

  deleteRows() {
    const { block, active } = this.sheet.selection;
    const change = deleteChange(this.sheet.store.rows, this.sheet.order, block);
    if (change.removed.length === 0) return;
    const name = change.removed[0].row.cells[0] || "without a name";
    this.edit(change);
    this.sheet.hands.go(Math.max(0, Math.min(block.top, this.sheet.order.shown.length - 1)), active.place);
    const what = change.removed.length === 1 ? `the row ${name}` : counted(change.removed.length, "row");
    this.sheet.bar.tell(`Deleted ${what}. Undo brings back what was deleted.`);
  }

  /** @param {"undo"|"redo"} way */
  async takeBack(way) {
    const change = way === "undo" ? this.sheet.store.rows.undo() : this.sheet.store.rows.redo();
    if (!change) {
      await this.sheet.saving.offerEarlier(way);
      return;
    }
    const coming = way === "undo" ? change.removed : change.inserted;
    this.#showChange(new Set(coming.map(({ row }) => row)));
    this.sheet.saving.checkSoon();
    const row = change.cells[0]?.row ?? coming[0]?.row;
    const line = row ? this.sheet.order.shown.indexOf(row) : this.sheet.selection.active.line;
    this.sheet.hands.go(Math.max(0, line), change.cells[0]?.place ?? this.sheet.selection.active.place);
    this.sheet.bar.tell("");
  }

  /** @param {Problem} problem @param {string} words @param {boolean} all */
  mend(problem, words, all) {
    const place = this.sheet.store.table?.header.indexOf(problem.column ?? "") ?? -1;
    const same = this.sheet.store.problems.filter((one) => (all ? isAlike(one.problem, problem) : one.problem === problem));
    const cells = same.flatMap(({ row }) =>
      row && place >= 0 ? [{ row, place, from: row.cells[place], to: words }] : [],
    );
    this.edit({ label: "mend", cells });
    this.sheet.grid.focusActive();
  }
}
