// @ts-check
// Columns made wider and narrower: by their edge, by Alt+Shift with the arrow keys, by the
// column's menu. What a person chose is kept with the study.

import { read, send } from "./server.js";

/** @typedef {import("./sheet_grid.js").SheetGrid} SheetGrid */

const NARROWEST_PX = 48;
const WIDEST_PX = 1200;
const STEP_PX = 24;
const REST_MS = 600;

export class ColumnResizing {
  /**
   * @param {SheetGrid} grid @param {() => string} name of the table
   * @param {(words: string) => void} say
   */
  constructor(grid, name, say) {
    this.grid = grid;
    this.name = name;
    this.say = say;
    /** @type {number|undefined} */
    this.waiting = undefined;
    grid.head.addEventListener("pointerdown", (event) => this.#press(event));
    for (const kind of ["click", "dblclick"]) grid.head.addEventListener(kind, (event) => this.#leave(event));
    grid.frame.addEventListener("keydown", (event) => this.#key(event));
  }

  /** Read the widths chosen earlier; without them columns are as wide as what stands in them. */
  async load() {
    const kept = await read(`/api/column-widths/${this.name()}`).catch(() => ({ widths: {} }));
    this.grid.chosen = new Map(Object.entries(kept.widths));
  }

  /** @param {number} place @param {number} by px */
  widen(place, by) {
    this.#set(place, this.grid.widthOf(place) + by);
    this.#tell(place);
  }

  /** Make a column a step wider. @param {number} place */
  wider(place) {
    this.widen(place, STEP_PX);
  }

  /** Make a column a step narrower. @param {number} place */
  narrower(place) {
    this.widen(place, -STEP_PX);
  }

  /** As wide as what stands in it. @param {number} place */
  fit(place) {
    const column = this.grid.table?.columns[place];
    if (!column) return;
    this.grid.chosen.delete(column.name);
    this.grid.drawWidths();
    this.#keep();
    this.#tell(place);
  }

  /** @param {number} place @param {number} px */
  #set(place, px) {
    const column = this.grid.table?.columns[place];
    if (!column) return;
    this.grid.chosen.set(column.name, Math.round(Math.min(WIDEST_PX, Math.max(NARROWEST_PX, px))));
    this.grid.drawWidths();
    this.#keep();
  }

  /** @param {number} place */
  #tell(place) {
    const column = this.grid.table?.columns[place];
    if (column) this.say(`${column.title}: ${this.grid.widthOf(place)} px wide.`);
  }

  #keep() {
    clearTimeout(this.waiting);
    this.waiting = window.setTimeout(() => {
      // A width that could not be kept is no harm worth a message.
      void send(`/api/column-widths/${this.name()}`, { widths: Object.fromEntries(this.grid.chosen) }).catch(() => {});
    }, REST_MS);
  }

  /** @param {Event} event @returns {number} the column whose edge was met, or -1 */
  #edge(event) {
    const edge = event.target instanceof Element ? event.target.closest(".column-edge") : null;
    const cell = edge?.closest("th");
    return cell ? cell.cellIndex - 1 : -1;
  }

  /** Follow the pointer until it is let go. @param {PointerEvent} event */
  #press(event) {
    const place = this.#edge(event);
    if (place < 0 || event.button !== 0) return;
    event.preventDefault();
    event.stopPropagation();
    const stop = new AbortController();
    const { signal } = stop;
    const from = event.clientX;
    const before = this.grid.widthOf(place);
    const along = this.#along();
    /** @param {PointerEvent} moved */
    const move = (moved) => {
      if (moved.clientX !== from) this.#set(place, before + along * (moved.clientX - from));
    };
    document.addEventListener("pointermove", move, { signal });
    for (const end of ["pointerup", "pointercancel"]) document.addEventListener(end, () => stop.abort(), { signal });
  }

  /** A click on an edge opens no menu; two fit the column. @param {Event} event */
  #leave(event) {
    const place = this.#edge(event);
    if (place < 0) return;
    event.stopPropagation();
    if (event.type === "dblclick") this.fit(place);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!way || !event.altKey || !event.shiftKey) return;
    event.preventDefault();
    this.widen(this.grid.selection.active.place, STEP_PX * way * this.#along());
  }

  /** 1 where lines run to the right, -1 where they run to the left. */
  #along() {
    return getComputedStyle(this.grid.frame).direction === "rtl" ? -1 : 1;
  }
}
