// @ts-check
// A table of the study in the page: its bar, its grid, its note, and what a person does there.

import { isAlike, marksOf } from "./cell_marks.js";
import { CellNote } from "./cell_note.js";
import { ClashPanel } from "./clash_panel.js";
import { ColumnResizing } from "./column_resizing.js";
import { GridHands } from "./grid_hands.js";
import { CellMenu, ColumnMenu } from "./menus.js";
import { wordsOf } from "./server.js";
import { SheetBar, counted } from "./sheet_bar.js";
import { SheetEditing } from "./sheet_editing.js";
import { emptyChange, fillChange } from "./sheet_edits.js";
import { SheetFinding } from "./sheet_finding.js";
import { SheetGrid } from "./sheet_grid.js";
import { SheetOrder } from "./sheet_order.js";
import { SheetSaving } from "./sheet_saving.js";
import { SheetSelection } from "./sheet_selection.js";
import { SheetStore } from "./sheet_store.js";

/** @typedef {import("./server.js").Row} Row */

let sheets = 0;

export class StudySheet extends HTMLElement {
  store = new SheetStore("");
  order = new SheetOrder();
  selection = new SheetSelection();
  editing = new SheetEditing(this);
  saving = new SheetSaving(this);
  finding = new SheetFinding(this);
  /** @type {number|null} the results whose doubts are shown */
  results = null;
  /** @type {Promise<void>} */
  ready = Promise.resolve();

  bar = new SheetBar({
    save: () => void this.save(),
    undo: () => void this.editing.takeBack("undo"),
    redo: () => void this.editing.takeBack("redo"),
    add: () => this.editing.addRow(this.store.rows.rows.length),
    remove: () => this.editing.deleteRows(),
    find: (words) => this.arrange(() => (this.order.sought = words.trim().toLowerCase())),
    kind: (kind) => this.arrange(() => (this.order.kind = this.finding.rowsOf(kind))),
    next: () => this.finding.next(1),
    everything: () => this.showEverything(),
    goOn: () => this.saving.checkSoon(),
  });
  clash = new ClashPanel();
  grid = new SheetGrid(this.order, this.selection);
  note = new CellNote(`cell-note-${(sheets += 1)}`);
  resizing = new ColumnResizing(this.grid, () => this.name, (words) => this.note.say(words));
  cellMenu = new CellMenu();
  columnMenu = new ColumnMenu();
  hands = new GridHands(this.grid, {
    isOpen: () => this.editing.editor !== null,
    open: (typed) => this.editing.openCell(typed),
    empty: () => this.editing.edit(emptyChange(this.order, this.selection.block)),
    fill: (way) => this.editing.edit(fillChange(this.order, this.selection.block, way)),
    fillTo: (spot) => this.editing.fillTo(spot),
    paste: (block) => this.editing.paste(block),
    addBelow: () => this.editing.addRow(this.editing.indexBelow()),
    nextProblem: (step) => this.finding.next(step),
    columnMenu: (place, near) => this.finding.columnMenu(place, near),
    cellMenu: (x, y, pressed) => this.finding.cellMenu(x, y, pressed),
    moved: () => this.drawNote(),
  });
  lists = document.createElement("div");

  connectedCallback() {
    const { bar, clash, grid, note, lists } = this;
    this.store.name = this.name;
    const frame = document.createElement("div");
    frame.className = "sheet-frame";
    frame.append(grid.frame, note.element);
    this.append(bar.element, bar.message, clash.element, frame, lists, this.cellMenu.element, this.columnMenu.element);
    grid.onLeaving = () => this.editing.editor?.close(this.editing.editor.field.value, "stay");
    for (const menu of [this.cellMenu, this.columnMenu]) {
      menu.onClosed = () => {
        if (!this.editing.editor && menu.element.contains(document.activeElement)) grid.cell()?.focus();
      };
    }
    this.addEventListener("keydown", (event) => this.#key(event));
    this.ready = this.resizing.load().then(() => this.load());
  }

  /** The name of the table. */
  get name() {
    return this.getAttribute("name") ?? "";
  }

  /** Whether something in this sheet is not saved yet. */
  get dirty() {
    return this.store.rows.unsaved > 0 || this.editing.editor !== null;
  }

  /** Save what is not saved yet. */
  save() {
    return this.saving.save();
  }

  /** Read the table from the server and show it. */
  async load() {
    try {
      await this.store.load();
      this.clash.clear();
      this.order.arrange(this.store.rows.rows, this.columns());
      this.show();
      if (this.store.table?.locked) this.bar.tell(this.store.table.locked, "doubt");
    } catch (fault) {
      this.bar.tell(wordsOf(fault), "problem");
    }
    const empty = this.store.rows.rows.length === 0;
    if (this.dataset.ready !== "yes" && empty && !this.#onlyOneOpen()) this.drawer(false);
    this.dataset.ready = "yes";
  }

  columns() {
    return this.store.table?.columns ?? [];
  }

  /** Open or close the drawer the sheet lies in. @param {boolean} open */
  drawer(open) {
    const drawer = this.closest("details");
    if (drawer) drawer.open = open;
  }

  /** Whether no other drawer of this view stands open: one always does. */
  #onlyOneOpen() {
    return document.querySelectorAll("details.sheet-drawer[open]").length <= 1;
  }

  /** Follow the server: read the table again if it changed on disk, mark doubtful rows anew.
   * @param {string|undefined} version the table's on disk
   * @param {number|null} results which results stand; null while they are being computed
   */
  async follow(version, results) {
    await this.ready;
    const { store } = this;
    if (store.saving || !store.table) return;
    if (version !== undefined && version !== store.table.version) {
      if (!this.dirty) {
        const { active } = this.selection;
        const hadFocus = this.grid.holds(document.activeElement);
        await this.load();
        if (hadFocus) this.hands.go(active.line, active.place);
        return;
      }
      this.bar.tell("This table was also changed on disk. Saving joins both, and asks where one cell differs.", "doubt");
    }
    if (results === null || results === this.results) return;
    this.results = results;
    await store.readDoubts();
    this.drawMarks();
  }

  /** Open the place a link names. @param {number|null} number @param {string|null} column */
  async goTo(number, column) {
    await this.ready;
    this.drawer(true);
    const row = this.store.rows.rows.find((one) => one.number === number);
    const place = Math.max(0, column ? (this.store.table?.header.indexOf(column) ?? 0) : 0);
    if (!row) {
      this.scrollIntoView({ block: "start" });
      return;
    }
    this.goToRow(row, place);
    this.grid.cell()?.scrollIntoView({ block: "center" });
  }

  /** @param {Row} row @param {number} place */
  goToRow(row, place) {
    if (!this.order.shown.includes(row)) this.showEverything();
    this.hands.go(this.order.shown.indexOf(row), place);
  }

  /**
   * Begin a row with some of its cells filled, and go to the first that must be filled.
   * @param {Record<string, string>} cells by column
   */
  async begin(cells) {
    await this.ready;
    const { table } = this.store;
    if (!table || table.locked) return;
    this.drawer(true);
    const row = this.editing.addRow(this.store.rows.rows.length, table.header.map((name) => cells[name] ?? ""));
    if (!row) return;
    const missing = table.columns.findIndex((column, place) => column.required && row.cells[place] === "");
    this.goToRow(row, Math.max(0, missing));
    this.editing.openCell();
  }

  /** Show the table as the store holds it. */
  show() {
    const { table, rows } = this.store;
    if (!table) return;
    this.grid.show(table, rows);
    this.#drawSuggestions();
    this.drawMarks();
  }

  drawMarks() {
    const { table, rows, problems, doubts } = this.store;
    if (!table) return;
    this.grid.rows = rows;
    this.grid.marks = marksOf(table, rows, problems, doubts);
    this.grid.draw();
    this.drawBar();
    this.drawNote();
  }

  drawNote() {
    const { table, rows, problems } = this.store;
    this.#drawSelected();
    const { line, place } = this.selection.active;
    const row = this.order.shown[line];
    const column = table?.columns[place];
    if (!table || !column) return;
    if (!row) {
      this.note.say(this.order.filtered ? "No row is left to show." : line < 0 ? column.description : "The table has no rows yet.");
      return;
    }
    const marks = this.grid.marks.get(row);
    this.note.show({
      column,
      text: row.cells[place],
      onDisk: rows.onDisk(row, place),
      ofCell: marks?.get(place),
      ofRow: marks?.get(-1),
      cut: isCut(this.grid.cell()),
      locked: Boolean(table.locked),
      alike: (problem) => problems.filter((one) => isAlike(one.problem, problem)).length,
      mend: (problem, words, all) => this.editing.mend(problem, words, all),
      keep: (problem, reason) => this.saving.keep(problem, reason),
      decide: (number) => this.#decisionOn(number),
    });
  }

  /** The way to the form that decides on a doubtful row, if this page has it. @param {number} number */
  #decisionOn(number) {
    const doubt = this.store.doubts.find((one) => one.row === number);
    const form = [...document.querySelectorAll("form.decide")].find(
      (one) => one.getAttribute("data-table") === this.name && one.getAttribute("data-row") === doubt?.row_id,
    );
    const field = form?.querySelector("input");
    return field ? () => field.focus() : null;
  }

  /** Change which rows are shown or their order; the active row stays active.
   * @param {() => void} change
   */
  arrange(change) {
    const row = this.order.shown[this.selection.active.line];
    const { place } = this.selection.active;
    change();
    this.order.arrange(this.store.rows.rows, this.columns());
    this.selection.bound(this.order.shown.length, this.columns().length);
    this.selection.move(Math.max(0, row ? this.order.shown.indexOf(row) : 0), place);
    this.grid.reveal();
    this.drawMarks();
  }

  showEverything() {
    this.bar.search.value = "";
    this.bar.kind.value = "";
    this.arrange(() => this.order.clear());
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const command = event.ctrlKey || event.metaKey;
    if (command && event.key === "s") {
      event.preventDefault();
      void this.save();
    } else if (command && this.grid.holds(event.target) && "zy".includes(event.key.toLowerCase())) {
      event.preventDefault();
      void this.editing.takeBack(event.key.toLowerCase() === "z" && !event.shiftKey ? "undo" : "redo");
    }
  }

  #drawSelected() {
    const { block } = this.selection;
    const count = block.bottom - block.top + 1;
    const deleting = count > 1 ? `Delete ${count} rows` : "Delete row";
    if (this.bar.remove.textContent !== deleting) this.bar.remove.textContent = deleting;
  }

  drawBar() {
    const { rows, problems, doubts, saving, table } = this.store;
    this.bar.draw({
      rows: rows.rows.length,
      shown: this.order.shown.length,
      filtered: this.order.filtered,
      sorted: this.order.sorted !== null,
      unsaved: rows.unsaved,
      problems: problems.length,
      doubts: doubts.filter((doubt) => doubt.decided === null).length,
      saving,
      editing: this.editing.editor !== null,
      undo: rows.done.at(-1)?.label ?? "",
      redo: rows.undone.at(-1)?.label ?? "",
      earlier: rows.unsaved === 0,
      locked: Boolean(table?.locked),
    });
    this.classList.toggle("unsaved", rows.unsaved > 0);
    const count = this.closest("details")?.querySelector(".sheet-count");
    const n = rows.rows.length;
    if (count) count.textContent = n === 0 ? "empty" : counted(n, "row");
  }

  #drawSuggestions() {
    const { table } = this.store;
    if (!table) return;
    const lists = Object.entries(table.suggestions).map(([column, names]) => {
      const list = document.createElement("datalist");
      list.id = this.listId(column);
      list.append(...names.map((name) => new Option(name, name)));
      return list;
    });
    this.lists.replaceChildren(...lists);
  }

  /** @param {string} column */
  listId(column) {
    return `list-${this.name}-${column}`;
  }
}

/** Whether a cell holds more than it shows. @param {HTMLElement|null} cell */
function isCut(cell) {
  return cell !== null && cell.scrollWidth > cell.clientWidth;
}

customElements.define("study-sheet", StudySheet);
