// @ts-check
// What keys, pointer and clipboard do in a grid. As in any spreadsheet: a click selects, a
// second one, Enter, F2 or typing opens; shift extends; the block selected is copied and filled.

import { blockOf, tableOf, textOf } from "./clipboard.js";
import { HEADER_LINE } from "./sheet_selection.js";

/** @typedef {import("./sheet_grid.js").SheetGrid} SheetGrid */
/** @typedef {import("./sheet_selection.js").Spot} Spot */
/**
 * @typedef {{isOpen: () => boolean, open: (typed?: string) => void, empty: () => void,
 *   fill: (way: "down"|"right") => void, fillTo: (spot: Spot) => void,
 *   paste: (block: string[][]) => void, addBelow: () => void, nextProblem: (step: 1|-1) => void,
 *   columnMenu: (place: number, near: Element) => void,
 *   cellMenu: (x: number, y: number, pressed: Spot) => void, moved: () => void}} Acts
 */

export class GridHands {
  /** @param {SheetGrid} grid @param {Acts} acts */
  constructor(grid, acts) {
    this.grid = grid;
    this.acts = acts;
    const { frame } = grid;
    frame.addEventListener("keydown", (event) => this.#key(event));
    frame.addEventListener("focusin", (event) => this.#follow(event));
    frame.addEventListener("pointerdown", (event) => this.#press(event));
    frame.addEventListener("click", (event) => this.#click(event));
    frame.addEventListener("contextmenu", (event) => this.#menu(event));
    frame.addEventListener("copy", (event) => this.#copy(event));
    frame.addEventListener("cut", (event) => {
      if (this.#copy(event)) this.acts.empty();
    });
    frame.addEventListener("paste", (event) => this.#paste(event));
    /** @type {Spot|null} the spot that was active before the pointer went down */
    this.before = null;
  }

  /** Go to a spot and show it. @param {number} line @param {number} place @param {boolean} [extend] */
  go(line, place, extend = false) {
    this.grid.selection.move(line, place, extend);
    this.grid.focusActive();
    this.acts.moved();
  }

  /** The focus may come by other ways than ours. @param {FocusEvent} event */
  #follow(event) {
    const spot = this.grid.spotOf(event.target);
    const { active } = this.grid.selection;
    if (!spot || spot.place < 0 || (spot.line === active.line && spot.place === active.place)) return;
    if (this.acts.isOpen()) return;
    this.grid.selection.move(spot.line, spot.place);
    this.grid.draw();
    this.acts.moved();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const { selection, order } = this.grid;
    if (this.acts.isOpen() || event.isComposing) return;
    const { line, place } = selection.active;
    const far = event.ctrlKey || event.metaKey;
    const last = order.shown.length - 1;
    const end = selection.places - 1;
    const along = this.#isMirrored() ? -1 : 1;
    const { page } = this.grid;
    /** @type {Record<string, [number, number]>} */
    const moves = {
      ArrowDown: [far ? last : line + 1, place],
      ArrowUp: [far && line > 0 ? 0 : line - 1, place],
      ArrowRight: [line, far ? (along > 0 ? end : 0) : place + along],
      ArrowLeft: [line, far ? (along > 0 ? 0 : end) : place - along],
      PageDown: [line + page, place],
      PageUp: [Math.max(0, line - page), place],
      Home: [far ? 0 : line, 0],
      End: [far ? last : line, end],
    };
    if (event.altKey && event.key === "ArrowDown") {
      this.#columnMenu(place);
    } else if (event.key in moves && !event.altKey) {
      this.go(...moves[event.key], event.shiftKey);
    } else if (line === HEADER_LINE) {
      return; // the rest of the keys are the header button's own
    } else if (!this.#act(event, far)) {
      return;
    }
    event.preventDefault();
  }

  /** @param {KeyboardEvent} event @param {boolean} far @returns {boolean} whether it was ours */
  #act(event, far) {
    const { selection } = this.grid;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (far && key === "Enter") this.acts.addBelow();
    else if (key === "Enter" || key === "F2") this.acts.open();
    else if (key === "Delete" || key === "Backspace") this.acts.empty();
    else if (key === "F8") this.acts.nextProblem(event.shiftKey ? -1 : 1);
    else if (key === "Escape") this.go(selection.active.line, selection.active.place);
    else if (far && key === "a") this.#select(() => selection.all());
    else if (far && key === "d") this.acts.fill("down");
    else if (far && key === "r") this.acts.fill("right");
    else if (key === " " && event.shiftKey) {
      const { top, bottom } = selection.block;
      this.#select(() => selection.lineRange(top, bottom));
    } else if (key === " " && far) {
      const { start, end } = selection.block;
      this.#select(() => selection.placeRange(start, end));
    } else if (event.key.length === 1 && !far && !event.altKey) this.acts.open(event.key);
    else return false;
    return true;
  }

  /** @param {() => void} act */
  #select(act) {
    act();
    this.grid.draw();
    this.acts.moved();
  }

  /** @param {PointerEvent} event */
  #press(event) {
    const spot = this.grid.spotOf(event.target);
    this.before = { ...this.grid.selection.active };
    if (event.target === this.grid.handle) {
      event.preventDefault();
      this.#drag((to) => this.acts.fillTo(to), false);
      return;
    }
    // Fingers scroll; for them a tap is a click.
    if (!spot || event.pointerType === "touch" || event.button !== 0) return;
    if (event.target instanceof Element && event.target.closest(".cell-field")) return;
    if (spot.line === HEADER_LINE) return;
    event.preventDefault();
    this.#choose(spot, event.shiftKey);
    this.#drag(null, spot.place < 0);
  }

  /** @param {Spot} spot @param {boolean} extend */
  #choose(spot, extend) {
    const { selection } = this.grid;
    if (spot.place >= 0) {
      this.go(spot.line, spot.place, extend);
      return;
    }
    const from = extend ? selection.anchor.line : spot.line;
    selection.lineRange(from, spot.line);
    this.grid.focusActive();
    this.acts.moved();
  }

  /**
   * Follow the pointer until it is let go.
   * @param {((spot: Spot) => void)|null} release what is done at the end; null only selects
   * @param {boolean} whole whether whole rows are selected
   */
  #drag(release, whole) {
    const stop = new AbortController();
    const { signal } = stop;
    /** @type {Spot|null} */
    let at = null;
    /** @param {PointerEvent} event */
    const move = (event) => {
      const found = this.grid.spotOf(document.elementFromPoint(event.clientX, event.clientY));
      if (!found || found.line === HEADER_LINE) return;
      at = found;
      if (release) return;
      if (whole || found.place < 0) this.#choose({ line: found.line, place: -1 }, true);
      else this.go(found.line, found.place, true);
    };
    document.addEventListener("pointermove", move, { signal });
    document.addEventListener("pointercancel", () => stop.abort(), { signal });
    document.addEventListener(
      "pointerup",
      () => {
        stop.abort();
        if (release && at) release(at);
      },
      { signal },
    );
  }

  /** @param {MouseEvent} event */
  #click(event) {
    const spot = this.grid.spotOf(event.target);
    if (!spot || !(event.target instanceof Element)) return;
    if (spot.line === HEADER_LINE) {
      if (spot.place >= 0) this.#columnMenu(spot.place);
      return;
    }
    // A click inside the open cell belongs to its field.
    if (event.target.closest(".cell-field") || event.target === this.grid.handle) return;
    const again = this.before?.line === spot.line && this.before.place === spot.place;
    if (again && !event.shiftKey && !this.grid.selection.several) this.acts.open();
    else if (event instanceof PointerEvent && event.pointerType === "touch") this.#choose(spot, false);
  }

  /** @param {MouseEvent} event */
  #menu(event) {
    const spot = this.grid.spotOf(event.target);
    if (!spot || spot.line === HEADER_LINE || this.acts.isOpen()) return;
    event.preventDefault();
    const cell = /** @type {Element} */ (event.target).getBoundingClientRect();
    // Asked for with the keyboard it has no place of its own.
    const placed = event.clientX !== 0 || event.clientY !== 0;
    this.acts.cellMenu(placed ? event.clientX : cell.left, placed ? event.clientY : cell.bottom, spot);
  }

  /** @param {number} place */
  #columnMenu(place) {
    const near = this.grid.head.rows[0].cells[place + 1];
    if (near) this.acts.columnMenu(place, near);
  }

  /** @param {ClipboardEvent} event @returns {boolean} */
  #copy(event) {
    if (this.acts.isOpen() || !event.clipboardData) return false;
    const block = this.selected();
    if (block.length === 0) return false;
    event.preventDefault();
    event.clipboardData.setData("text/plain", textOf(block));
    event.clipboardData.setData("text/html", tableOf(block));
    return true;
  }

  /** The cells selected, as text. @returns {string[][]} */
  selected() {
    const { top, bottom, start, end } = this.grid.selection.block;
    return this.grid.order.shown
      .slice(top, bottom + 1)
      .map((row) => row.cells.slice(start, end + 1));
  }

  /** @param {ClipboardEvent} event */
  #paste(event) {
    if (this.acts.isOpen() || !event.clipboardData) return;
    event.preventDefault();
    this.acts.paste(blockOf(event.clipboardData.getData("text/plain")));
  }

  #isMirrored() {
    return getComputedStyle(this.grid.frame).direction === "rtl";
  }
}
