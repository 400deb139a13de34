// @ts-check
// The grid on the screen. Only the rows in sight are in the page, however long the table is;
// each is numbered for those who do not see it. One cell of it is a stop of the Tab key.

import { WHOLE_ROW, doubtWords, problemWords } from "./cell_marks.js";
import { columnWidths } from "./column_widths.js";
import { HEADER_LINE } from "./sheet_selection.js";

/** @typedef {import("./server.js").Table} Table */
/** @typedef {import("./server.js").Row} Row */
/** @typedef {import("./sheet_rows.js").SheetRows} SheetRows */
/** @typedef {import("./sheet_order.js").SheetOrder} SheetOrder */
/** @typedef {import("./sheet_selection.js").SheetSelection} SheetSelection */
/** @typedef {import("./sheet_selection.js").Spot} Spot */

const BEYOND = 8;
const USUAL_HEIGHT_PX = 32;
const MOST_WITHOUT_SIZE = 40;

export class SheetGrid {
  /** @param {SheetOrder} order @param {SheetSelection} selection */
  constructor(order, selection) {
    this.order = order;
    this.selection = selection;
    /** @type {Table|null} */
    this.table = null;
    /** @type {SheetRows|null} */
    this.rows = null;
    /** @type {import("./cell_marks.js").Marks} */
    this.marks = new Map();
    /** @type {Map<number, HTMLTableRowElement>} the lines in the page */
    this.lines = new Map();
    /** @type {HTMLTableRowElement[]} lines out of sight, to be written anew */
    this.spare = [];
    this.rowHeight = USUAL_HEIGHT_PX;
    this.headHeight = 0;
    /** Whether heights are those of the screen as it is; asking for them is slow. */
    this.measured = false;
    /** @type {Map<string, number>} widths in px that a person chose, by column */
    this.chosen = new Map();
    /** @type {number[]} widths in px, that of the row numbers first */
    this.fitted = [];
    /** @type {HTMLElement|null} the cell that is open, whose content is not ours */
    this.openCell = null;
    /** Called before the open cell leaves the page. */
    this.onLeaving = () => {};

    this.frame = document.createElement("div");
    this.frame.className = "sheet-scroll";
    this.frame.tabIndex = -1;
    this.run = document.createElement("div");
    this.grid = document.createElement("table");
    this.grid.setAttribute("role", "grid");
    this.grid.setAttribute("aria-multiselectable", "true");
    this.widths = document.createElement("colgroup");
    this.grid.append(this.widths);
    this.head = this.grid.createTHead();
    this.body = this.grid.createTBody();
    this.run.append(this.grid);
    this.frame.append(this.run);
    this.handle = document.createElement("span");
    this.handle.className = "fill-handle";
    this.handle.setAttribute("aria-hidden", "true");
    let waiting = false;
    this.frame.addEventListener("scroll", () => {
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(() => {
        waiting = false;
        this.drawWindow();
      });
    });
    new ResizeObserver(() => {
      this.measured = false;
      this.drawWindow();
    }).observe(this.frame);
  }

  /** Show another table, or this one read again. @param {Table} table @param {SheetRows} rows */
  show(table, rows) {
    this.table = table;
    this.rows = rows;
    this.measured = false;
    this.grid.setAttribute("aria-label", table.title);
    this.grid.setAttribute("aria-colcount", String(table.header.length + 1));
    const hadFocus = this.holds(document.activeElement);
    this.#drawHead(table);
    this.draw();
    if (hadFocus) this.cell()?.focus({ preventScroll: true });
  }

  /** Draw everything in sight anew. */
  draw() {
    if (!this.table) return;
    this.selection.bound(this.order.shown.length, this.table.header.length);
    this.grid.setAttribute("aria-rowcount", String(this.order.shown.length + 1));
    this.#drawHeadSigns();
    this.drawWindow();
    for (const [line, row] of this.lines) this.#fillLine(row, line);
    this.#drawStop();
    this.#drawHandle();
  }

  /** Put the lines in sight into the page and take the others out. */
  drawWindow() {
    if (!this.table) return;
    const count = this.order.shown.length;
    const { first, last } = this.#window(count);
    const focused = document.activeElement;
    for (const [line, row] of this.lines) {
      if (line >= first && line <= last) continue;
      if (row.contains(this.openCell)) this.onLeaving();
      // The focus must not fall out of the grid with its cell.
      if (row.contains(focused)) this.frame.focus({ preventScroll: true });
      row.remove();
      this.lines.delete(line);
      this.spare.push(row);
    }
    let before = this.body.firstElementChild;
    for (let line = first; line <= last; line += 1) {
      const standing = this.lines.get(line);
      if (standing) {
        before = standing.nextElementSibling;
        continue;
      }
      const made = this.#line(line);
      this.lines.set(line, made);
      this.body.insertBefore(made, before);
    }
    if (!this.measured) this.headHeight = this.head.offsetHeight;
    this.run.style.blockSize = `${this.headHeight + count * this.rowHeight}px`;
    this.grid.style.marginBlockStart = `${first * this.rowHeight}px`;
    if (!this.measured) this.#measure();
    if (document.activeElement === this.frame) this.cell()?.focus({ preventScroll: true });
    this.#drawHandle();
  }

  /** The active cell, if it is in the page. @param {Spot} [spot] @returns {HTMLElement|null} */
  cell({ line, place } = this.selection.active) {
    if (line === HEADER_LINE) return this.head.rows[0]?.cells[place + 1]?.querySelector("button");
    return this.lines.get(line)?.cells[place + 1] ?? null;
  }

  /** @param {EventTarget|null} target */
  holds(target) {
    return target instanceof Node && this.frame.contains(target);
  }

  /** Bring the active cell into sight and put the focus there. */
  focusActive() {
    if (!this.table || (this.order.shown.length === 0 && this.selection.active.line >= 0)) return;
    this.reveal();
    this.draw();
    const cell = this.cell();
    cell?.focus({ preventScroll: true });
    cell?.scrollIntoView({ block: "nearest", inline: "nearest" });
  }

  /** Scroll the frame so that the active line is in it. */
  reveal() {
    const { line } = this.selection.active;
    if (line === HEADER_LINE) return;
    const head = this.head.offsetHeight;
    const top = line * this.rowHeight;
    const room = this.frame.clientHeight - head - this.rowHeight;
    if (top < this.frame.scrollTop) this.frame.scrollTop = top;
    else if (top > this.frame.scrollTop + room) this.frame.scrollTop = top - Math.max(room, 0);
  }

  /** Where an element of the grid stands. @param {EventTarget|null} target @returns {Spot|null} */
  spotOf(target) {
    const cell = target instanceof Element ? target.closest("td, th") : null;
    if (!(cell instanceof HTMLTableCellElement) || !this.grid.contains(cell)) return null;
    const row = /** @type {HTMLTableRowElement} */ (cell.parentElement);
    const line = row.parentElement === this.head ? HEADER_LINE : Number(row.dataset.line);
    return { line, place: cell.cellIndex - 1 };
  }

  /** Lines that fit the frame. */
  get page() {
    return Math.max(1, Math.floor((this.frame.clientHeight - this.head.offsetHeight) / this.rowHeight) - 1);
  }

  /** @param {number} count */
  #window(count) {
    const height = this.frame.clientHeight;
    // A closed drawer has no size; a few lines are there all the same.
    const inSight = height ? Math.ceil(height / this.rowHeight) : MOST_WITHOUT_SIZE;
    const top = Math.floor(this.frame.scrollTop / this.rowHeight);
    const first = Math.max(0, Math.min(top - BEYOND, count - inSight - BEYOND));
    return { first, last: Math.min(count - 1, top + inSight + BEYOND) };
  }

  #measure() {
    const height = this.body.rows[0]?.getBoundingClientRect().height ?? 0;
    if (height === 0) return;
    this.measured = true;
    if (Math.abs(height - this.rowHeight) < 0.01) return;
    this.rowHeight = height;
    this.drawWindow();
  }

  /** @param {number} line */
  #line(line) {
    const spare = this.spare.pop();
    if (spare) {
      spare.dataset.line = String(line);
      this.#fillLine(spare, line);
      return spare;
    }
    const row = document.createElement("tr");
    row.dataset.line = String(line);
    const label = document.createElement("th");
    label.scope = "row";
    row.append(label);
    for (let place = 0; place < (this.table?.header.length ?? 0); place += 1) {
      const cell = document.createElement("td");
      cell.setAttribute("role", "gridcell");
      row.append(cell);
    }
    this.#fillLine(row, line);
    return row;
  }

  /** @param {HTMLTableRowElement} element @param {number} line */
  #fillLine(element, line) {
    const row = this.order.shown[line];
    if (!row || !this.table || !this.rows) return;
    const marks = this.marks.get(row);
    element.setAttribute("aria-rowindex", String(line + 2));
    const label = /** @type {HTMLTableCellElement} */ (element.cells[0]);
    write(label, row.number === null ? "new" : String(row.number));
    markCell(label, marks?.get(WHOLE_ROW));
    const saved = this.rows.saved.get(row);
    const { active } = this.selection;
    for (let place = 0; place < row.cells.length; place += 1) {
      const cell = element.cells[place + 1];
      if (!cell) continue;
      const kind = this.table.columns[place].kind;
      const names = kind === "number" || kind === "integer" ? ["number"] : [];
      if (!saved || saved[place] !== row.cells[place]) names.push("changed");
      const isActive = active.line === line && active.place === place;
      const selected = this.selection.holds(line, place);
      if (selected && this.selection.several) names.push("selected");
      const mark = marks?.get(place);
      if (mark?.doubts.length) names.push("doubtful");
      setName(cell, names.join(" "));
      setAttribute(cell, "aria-selected", String(selected));
      cell.tabIndex = isActive ? 0 : -1;
      if (cell !== this.openCell) write(cell, row.cells[place]);
      markCell(cell, mark);
    }
  }

  /** @param {Table} table */
  #drawHead(table) {
    const line = document.createElement("tr");
    line.setAttribute("aria-rowindex", "1");
    const corner = document.createElement("th");
    corner.scope = "col";
    corner.textContent = "Row";
    line.append(corner);
    for (const column of table.columns) {
      const cell = document.createElement("th");
      cell.scope = "col";
      const button = document.createElement("button");
      button.type = "button";
      button.tabIndex = -1;
      button.className = "column-button";
      button.setAttribute("aria-haspopup", "dialog");
      const title = document.createElement("span");
      title.textContent = column.title + (column.required ? " *" : "");
      const name = document.createElement("code");
      name.textContent = column.name;
      button.title = column.description + (column.required ? " Must be filled." : "");
      button.append(title, name);
      const edge = document.createElement("span");
      edge.className = "column-edge";
      edge.setAttribute("aria-hidden", "true");
      cell.append(button, edge);
      line.append(cell);
    }
    this.head.replaceChildren(line);
    this.fitted = columnWidths(table, this.grid);
    this.widths.replaceChildren(...this.fitted.map(() => document.createElement("col")));
    this.drawWidths();
    this.body.replaceChildren();
    this.lines.clear();
    this.spare = [];
  }

  /** How wide a column is, in px. @param {number} place */
  widthOf(place) {
    return this.chosen.get(this.table?.columns[place]?.name ?? "") ?? this.fitted[place + 1] ?? 0;
  }

  /** Draw the columns as wide as they are to be. */
  drawWidths() {
    let sum = 0;
    for (const [at, column] of [...this.widths.children].entries()) {
      const width = at === 0 ? this.fitted[0] : this.widthOf(at - 1);
      /** @type {HTMLElement} */ (column).style.inlineSize = `${width}px`;
      sum += width;
    }
    this.grid.style.inlineSize = `${sum}px`;
  }

  #drawHeadSigns() {
    const cells = [...(this.head.rows[0]?.cells ?? [])].slice(1);
    for (const [place, cell] of cells.entries()) {
      const sorted = this.order.sorted?.place === place ? this.order.sorted : null;
      const way = !sorted ? "" : sorted.down ? "descending" : "ascending";
      if (way) cell.setAttribute("aria-sort", way);
      else cell.removeAttribute("aria-sort");
      cell.classList.toggle("filtered", this.order.filters.has(place));
      const button = /** @type {HTMLElement} */ (cell.firstElementChild);
      button.tabIndex = this.selection.active.line === HEADER_LINE && this.selection.active.place === place ? 0 : -1;
    }
  }

  /** The corner of the block selected, by which it is drawn out to fill others. */
  #drawHandle() {
    const { bottom, end } = this.selection.block;
    const corner = this.table?.locked ? null : this.lines.get(bottom)?.cells[end + 1];
    if (!corner || corner === this.openCell) this.handle.remove();
    else if (this.handle.parentElement !== corner) corner.append(this.handle);
  }

  /** With no row to stand on, the Tab key stops at the first column. */
  #drawStop() {
    if (this.order.shown.length > 0) return;
    const first = this.head.rows[0]?.cells[1]?.querySelector("button");
    if (first) first.tabIndex = 0;
  }
}

/** @param {HTMLElement} cell @param {string} text */
function write(cell, text) {
  if (cell.textContent !== text) cell.textContent = text;
}

/** @param {HTMLElement} cell @param {string} names */
function setName(cell, names) {
  if (cell.className !== names) cell.className = names;
}

/** @param {HTMLElement} cell @param {string} name @param {string} value */
function setAttribute(cell, name, value) {
  if (cell.getAttribute(name) !== value) cell.setAttribute(name, value);
}

/** @param {HTMLElement} cell @param {import("./cell_marks.js").Mark|undefined} mark */
function markCell(cell, mark) {
  for (const part of [cell, ...cell.querySelectorAll(".cell-field")]) {
    if (mark?.problems.length) setAttribute(/** @type {HTMLElement} */ (part), "aria-invalid", "true");
    else part.removeAttribute("aria-invalid");
  }
  const words = mark ? [...mark.problems.map(problemWords), ...mark.doubts.map(doubtWords)] : [];
  if (cell.title !== words.join("\n")) cell.title = words.join("\n");
}
