// @ts-check
// Finding one's way in a sheet: the next problem, rows of one kind, and the small menus.

import { blockOf, tableOf, textOf } from "./clipboard.js";
import { counted } from "./sheet_bar.js";
import { emptyChange, fillChange, numberChange } from "./sheet_edits.js";

/** @typedef {import("./sheet.js").StudySheet} StudySheet */
/** @typedef {import("./server.js").Row} Row */

export class SheetFinding {
  /** @param {StudySheet} sheet */
  constructor(sheet) {
    this.sheet = sheet;
  }

  /** @param {1|-1} step */
  next(step) {
    const { shown } = this.sheet.order;
    const { active } = this.sheet.selection;
    const spots = [];
    for (const [row, marks] of this.sheet.grid.marks) {
      const line = shown.indexOf(row);
      for (const [place, mark] of marks) if (mark.problems.length && line >= 0) spots.push({ line, place: Math.max(place, 0) });
    }
    spots.sort((one, other) => (one.line - other.line || one.place - other.place) * step);
    const beyond = spots.find((spot) => ((spot.line - active.line) * 1000 + spot.place - active.place) * step > 0);
    const spot = beyond ?? spots[0];
    if (spot) this.sheet.hands.go(spot.line, spot.place);
    else this.sheet.bar.tell(this.sheet.store.problems.length ? "The problems stand in rows that are not shown, or with the table as a whole." : "No problem is left in this table.");
  }

  /** @param {string} kind @returns {((row: Row) => boolean)|null} */
  rowsOf(kind) {
    const { rows } = this.sheet.store;
    /** @param {"problems"|"doubts"} which */
    const marked = (which) => (/** @type {Row} */ row) =>
      [...(this.sheet.grid.marks.get(row)?.values() ?? [])].some((mark) => mark[which].length > 0);
    if (kind === "problems" || kind === "doubts") return marked(kind);
    return kind === "changed" ? (row) => rows.touched.has(row) && rows.differs(row) : null;
  }

  /** @param {number} place @param {Element} near */
  columnMenu(place, near) {
    const column = this.sheet.columns()[place];
    const values = () =>
      [...new Set(this.sheet.store.rows.rows.map((row) => row.cells[place].trim()))].filter(Boolean).sort();
    this.sheet.columnMenu.show(near, column, place, this.sheet.order, values, () => this.sheet.arrange(() => {}), this.sheet.resizing);
  }

  /** @param {number} x @param {number} y @param {import("./sheet_selection.js").Spot} pressed */
  cellMenu(x, y, pressed) {
    const { selection, order } = this.sheet;
    const { active, anchor } = selection;
    const inside = selection.holds(pressed.line, Math.max(0, pressed.place));
    const reach = () => {
      selection.anchor = anchor;
      this.sheet.hands.go(pressed.line, Math.max(0, pressed.place), true);
    };
    if (!inside) this.sheet.hands.go(pressed.line, Math.max(0, pressed.place));
    const locked = Boolean(this.sheet.store.table?.locked);
    const { block } = selection;
    const one = block.top === block.bottom;
    const rows = counted(block.bottom - block.top + 1, "row");
    this.sheet.cellMenu.show(x, y, [
      ...(inside ? [] : [{ words: `Select from row ${order.shown[active.line]?.number ?? "new"} to here`, act: reach }]),
      { words: "Copy", key: "Ctrl+C", act: () => void this.#copyBlock() },
      { words: "Paste", key: "Ctrl+V", off: locked, act: () => void this.#pasteBlock() },
      { words: "Empty", key: "Delete", off: locked, act: () => this.sheet.editing.edit(emptyChange(order, block)) },
      { words: "Fill down", key: "Ctrl+D", off: locked || one, act: () => this.sheet.editing.edit(fillChange(order, block, "down")) },
      { words: "Fill right", key: "Ctrl+R", off: locked || block.start === block.end, act: () => this.sheet.editing.edit(fillChange(order, block, "right")) },
      { words: "Number on from the first", off: locked || one, act: () => this.sheet.editing.edit(numberChange(order, block)) },
      { words: "Add a row below", key: "Ctrl+Enter", off: locked, act: () => void this.sheet.editing.addRow(this.sheet.editing.indexBelow()) },
      { words: `Delete ${rows}`, off: locked, act: () => this.sheet.editing.deleteRows() },
    ]);
  }

  async #copyBlock() {
    const block = this.sheet.hands.selected();
    const kinds = { "text/plain": textOf(block), "text/html": tableOf(block) };
    const parts = Object.entries(kinds).map(([kind, text]) => [kind, new Blob([text], { type: kind })]);
    await navigator.clipboard.write([new ClipboardItem(Object.fromEntries(parts))]).catch(() => {
      this.sheet.bar.tell("The browser does not let the page copy from here: press Ctrl+C.");
    });
    this.sheet.grid.focusActive();
  }

  async #pasteBlock() {
    try {
      this.sheet.editing.paste(blockOf(await navigator.clipboard.readText()));
    } catch {
      this.sheet.bar.tell("The browser does not let the page paste from here: press Ctrl+V.");
      this.sheet.grid.focusActive();
    }
  }
}
