// @ts-check
// The grid on the screen: drawn in pieces, walked with the arrow keys, marked where the
// check or a step has something to say.

import { marksOf } from "./cell_marks.js";

/** @typedef {import("./server.js").Table} Table */
/** @typedef {import("./server.js").Problem} Problem */
/** @typedef {import("./server.js").Doubt} Doubt */
/** @typedef {import("./sheet_rows.js").SheetRows} SheetRows */
/** @typedef {import("./sheet.js").StudySheet} StudySheet */

const FIRST_ROWS = 60;
const ROWS_A_PIECE = 150;
const LONG_TEXT = 28;
let grids = 0;

export class SheetGrid {
  /** @param {StudySheet} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    grids += 1;
    this.noteId = `cell-note-${grids}`;
    this.at = { index: 0, place: 0 };
    /** @type {Table|null} */
    this.table = null;
    /** @type {SheetRows|null} */
    this.rows = null;
    this.drawn = 0;
    this.sought = "";
    /** @type {Map<string, import("./cell_marks.js").Mark>} */
    this.marks = new Map();

    this.element = document.createElement("div");
    this.element.className = "sheet-frame";
    this.frame = document.createElement("div");
    this.frame.className = "sheet-scroll";
    this.grid = document.createElement("table");
    this.grid.setAttribute("role", "grid");
    this.head = this.grid.createTHead();
    this.body = this.grid.createTBody();
    this.frame.append(this.grid);
    this.note = document.createElement("p");
    this.note.className = "cell-note";
    this.note.id = this.noteId;
    this.note.setAttribute("aria-live", "polite");
    this.element.append(this.frame, this.note);
    this.grid.addEventListener("keydown", (event) => this.#key(event));
    this.grid.addEventListener("focusin", (event) => this.#follow(event));
    this.grid.addEventListener("click", (event) => this.#click(event));
    this.grid.addEventListener("copy", (event) => this.#copy(event));
    this.grid.addEventListener("paste", (event) => this.#paste(event));
  }

  /** @param {Table} table @param {SheetRows} rows */
  show(table, rows) {
    this.table = table;
    this.rows = rows;
    this.grid.setAttribute("aria-label", table.title);
    this.grid.setAttribute("aria-rowcount", String(rows.rows.length + 1));
    this.#drawHead(table);
    this.body.replaceChildren();
    this.drawn = 0;
    this.#drawMore(Math.max(FIRST_ROWS, this.at.index + 1));
    this.at.index = Math.max(0, Math.min(this.at.index, rows.rows.length - 1));
    this.#setStop(true);
    this.#drawNote();
  }

  /** @param {number} index @param {number} place @returns {HTMLTableCellElement|null} */
  cell(index, place) {
    if (index >= this.drawn) this.#drawMore(index + 1);
    return this.body.rows[index]?.cells[place + 1] ?? null;
  }

  /** @param {EventTarget|null} target */
  holds(target) {
    return target instanceof Node && this.grid.contains(target);
  }

  /** @param {number} index @param {number} place */
  focusCell(index, place) {
    if (!this.rows || this.rows.rows.length === 0 || !this.table) return;
    const wanted = Math.max(0, Math.min(index, this.rows.rows.length - 1));
    const across = Math.max(0, Math.min(place, this.table.header.length - 1));
    this.#setStop(false);
    this.at = { index: wanted, place: across };
    const cell = this.cell(wanted, across);
    this.#setStop(true);
    cell?.focus({ preventScroll: false });
    this.#drawNote();
  }

  /** @param {number} index @param {number} place */
  redrawCell(index, place) {
    const cell = this.cell(index, place);
    if (!cell || !this.rows) return;
    this.#fill(cell, index, place);
    this.#mark(cell, index, place);
  }

  /** Show only rows that hold the words. @param {string} words */
  find(words) {
    this.sought = words.trim().toLowerCase();
    if (this.rows) this.#drawMore(this.rows.rows.length);
    for (const [index, line] of [...this.body.rows].entries()) this.#hide(line, index);
  }

  /** @param {Problem[]} problems @param {Doubt[]} doubts */
  mark(problems, doubts) {
    if (!this.rows || !this.table) return;
    const touched = new Set(this.marks.keys());
    this.marks = marksOf(this.table, this.rows, problems, doubts);
    for (const name of this.marks.keys()) touched.add(name);
    for (const name of touched) {
      const [index, place] = name.split(":").map(Number);
      if (index >= this.drawn) continue;
      const cell = this.body.rows[index]?.cells[place + 1];
      if (cell) this.#mark(cell, index, place);
    }
    this.#drawNote();
  }

  /** @param {HTMLElement} cell @param {number} index @param {number} place */
  #mark(cell, index, place) {
    const mark = this.marks.get(`${index}:${place}`);
    for (const part of [cell, ...cell.querySelectorAll(".cell-field")]) {
      if (mark?.problems.length) part.setAttribute("aria-invalid", "true");
      else part.removeAttribute("aria-invalid");
    }
    cell.classList.toggle("doubtful", Boolean(mark?.doubts.length));
    cell.title = mark ? [...mark.problems, ...mark.doubts].join("\n") : "";
  }

  /** @param {Table} table */
  #drawHead(table) {
    const line = document.createElement("tr");
    const corner = document.createElement("th");
    corner.scope = "col";
    corner.textContent = "Row";
    line.append(corner);
    for (const column of table.columns) {
      const cell = document.createElement("th");
      cell.scope = "col";
      const title = document.createElement("span");
      title.textContent = column.title + (column.required ? " *" : "");
      const name = document.createElement("code");
      name.textContent = column.name;
      cell.title = column.description + (column.required ? " Must be filled." : "");
      cell.append(title, name);
      line.append(cell);
    }
    this.head.replaceChildren(line);
  }

  /** Draw rows up to a count now, the rest when the browser is idle. @param {number} upTo */
  #drawMore(upTo) {
    if (!this.rows || !this.table) return;
    const rows = this.rows;
    const end = Math.min(upTo, rows.rows.length);
    const pieces = document.createDocumentFragment();
    for (let index = this.drawn; index < end; index += 1) pieces.append(this.#line(index));
    this.body.append(pieces);
    this.drawn = Math.max(this.drawn, end);
    if (this.drawn < rows.rows.length) {
      setTimeout(() => {
        if (this.rows === rows) this.#drawMore(this.drawn + ROWS_A_PIECE);
      });
    }
  }

  /** @param {number} index */
  #line(index) {
    const line = document.createElement("tr");
    const row = /** @type {SheetRows} */ (this.rows).rows[index];
    line.setAttribute("aria-rowindex", String(index + 2));
    const label = document.createElement("th");
    label.scope = "row";
    label.textContent = row.number === null ? "new" : String(row.number);
    line.append(label);
    this.#mark(label, index, -1);
    row.cells.forEach((_, place) => {
      const cell = document.createElement("td");
      cell.setAttribute("role", "gridcell");
      cell.tabIndex = -1;
      this.#fill(cell, index, place);
      this.#mark(cell, index, place);
      line.append(cell);
    });
    this.#hide(line, index);
    return line;
  }

  /** @param {HTMLElement} cell @param {number} index @param {number} place */
  #fill(cell, index, place) {
    const rows = /** @type {SheetRows} */ (this.rows);
    const text = rows.rows[index].cells[place];
    cell.textContent = text;
    const kind = this.table?.columns[place].kind;
    cell.className = kind === "number" || kind === "integer" ? "number" : "";
    cell.classList.toggle("changed", rows.onDisk(index, place) !== text);
  }

  /** @param {HTMLElement} line @param {number} index */
  #hide(line, index) {
    const cells = /** @type {SheetRows} */ (this.rows).rows[index].cells;
    line.hidden =
      this.sought !== "" && !cells.some((cell) => cell.toLowerCase().includes(this.sought));
  }

  /** @param {boolean} on */
  #setStop(on) {
    const cell = this.body.rows[this.at.index]?.cells[this.at.place + 1];
    if (cell) cell.tabIndex = on ? 0 : -1;
  }

  #drawNote() {
    const column = this.table?.columns[this.at.place];
    if (!column || !this.rows || this.rows.rows.length === 0) {
      this.note.textContent = this.rows ? "The table has no rows yet." : "";
      return;
    }
    const { index, place } = this.at;
    const about = document.createElement("span");
    const example = column.example ? ` For example ${column.example}.` : "";
    about.textContent = `${column.title}: ${column.description}${example}`;
    const parts = [about];
    const text = this.rows.rows[index].cells[place];
    if (text.length > LONG_TEXT) parts.unshift(said(text, "note-text"));
    const before = this.rows.onDisk(index, place);
    if (before !== null && before !== this.rows.rows[index].cells[place]) {
      parts.push(said(`On disk: ${before === "" ? "empty" : before}.`, "note-before"));
    }
    for (const name of [`${index}:${place}`, `${index}:-1`]) {
      const mark = this.marks.get(name);
      mark?.problems.forEach((words) => parts.push(said(words, "note-problem")));
      mark?.doubts.forEach((words) => parts.push(said(words, "note-doubt")));
    }
    this.note.replaceChildren(...parts);
  }

  /** The focus may come by other ways than ours. @param {FocusEvent} event */
  #follow(event) {
    const cell = event.target;
    if (!(cell instanceof HTMLTableCellElement) || cell.tagName !== "TD") return;
    const at = placeOf(cell);
    if (at.index === this.at.index && at.place === this.at.place) return;
    this.#setStop(false);
    this.at = at;
    this.#setStop(true);
    this.#drawNote();
  }

  /** @param {MouseEvent} event */
  #click(event) {
    const cell = event.target instanceof Element ? event.target.closest("td") : null;
    // A click inside the open cell belongs to its field.
    if (!cell || event.target !== cell) return;
    const { index, place } = placeOf(cell);
    this.focusCell(index, place);
    this.sheet.openCell(index, place);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (this.sheet.editor || !this.rows || !this.table) return;
    const { index, place } = this.at;
    const far = event.ctrlKey || event.metaKey;
    const page = Math.max(1, Math.floor(this.frame.clientHeight / 32) - 1);
    const last = this.rows.rows.length - 1;
    const across = this.table.header.length - 1;
    /** @type {Record<string, [number, number]>} */
    const moves = {
      ArrowDown: [far ? last : this.#next(index, 1), place],
      ArrowUp: [far ? 0 : this.#next(index, -1), place],
      ArrowRight: [index, far ? across : place + 1],
      ArrowLeft: [index, far ? 0 : place - 1],
      PageDown: [index + page, place],
      PageUp: [index - page, place],
      Home: [far ? 0 : index, 0],
      End: [far ? last : index, across],
    };
    if (event.key in moves) {
      event.preventDefault();
      this.focusCell(...moves[event.key]);
    } else if (event.key === "Enter" || event.key === "F2") {
      event.preventDefault();
      this.sheet.openCell(index, place);
    } else if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      this.sheet.emptyCell(index, place);
    } else if (event.key.length === 1 && !far && !event.altKey) {
      event.preventDefault();
      this.sheet.openCell(index, place, this.table.columns[place].choices.length ? undefined : event.key);
    }
  }

  /** The next row that is not hidden. @param {number} index @param {1|-1} step */
  #next(index, step) {
    let wanted = index + step;
    while (this.body.rows[wanted]?.hidden) wanted += step;
    return this.body.rows[wanted] || this.sought === "" ? wanted : index;
  }

  /** @param {ClipboardEvent} event */
  #copy(event) {
    if (this.sheet.editor || !this.rows || !event.clipboardData) return;
    event.preventDefault();
    const { index, place } = this.at;
    event.clipboardData.setData("text/plain", this.rows.rows[index]?.cells[place] ?? "");
  }

  /** @param {ClipboardEvent} event */
  #paste(event) {
    if (this.sheet.editor || !event.clipboardData) return;
    event.preventDefault();
    const text = event.clipboardData.getData("text/plain").replace(/\r\n?/g, "\n").replace(/\n$/, "");
    this.sheet.paste(text.split("\n").map((line) => line.split("\t")), this.at.index, this.at.place);
  }
}

/** @param {HTMLTableCellElement} cell */
function placeOf(cell) {
  const line = /** @type {HTMLTableRowElement} */ (cell.parentElement);
  return { index: line.sectionRowIndex, place: cell.cellIndex - 1 };
}

/** @param {string} words @param {string} kind */
function said(words, kind) {
  const made = document.createElement("span");
  made.className = kind;
  made.textContent = words;
  return made;
}
