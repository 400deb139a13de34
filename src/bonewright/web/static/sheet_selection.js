// @ts-check
// The active cell of a grid and the block selected around it, counted in lines shown.

/** @typedef {{line: number, place: number}} Spot */
/** @typedef {{top: number, bottom: number, start: number, end: number}} Block */

export const HEADER_LINE = -1;

export class SheetSelection {
  /** @type {Spot} */
  active = { line: 0, place: 0 };
  /** @type {Spot} where the block was begun */
  anchor = { line: 0, place: 0 };
  lines = 0;
  places = 0;

  /** How much there is to select. @param {number} lines @param {number} places */
  bound(lines, places) {
    this.lines = lines;
    this.places = places;
    const line = Math.min(this.active.line, Math.max(lines - 1, 0));
    const place = Math.min(this.active.place, Math.max(places - 1, 0));
    this.active = { line, place };
    this.anchor = {
      line: Math.min(this.anchor.line, Math.max(lines - 1, 0)),
      place: Math.min(this.anchor.place, Math.max(places - 1, 0)),
    };
  }

  /** @param {number} line @param {number} place @param {boolean} [extend] keep the anchor */
  move(line, place, extend = false) {
    const top = extend ? 0 : HEADER_LINE;
    this.active = {
      line: Math.max(top, Math.min(line, this.lines - 1)),
      place: Math.max(0, Math.min(place, this.places - 1)),
    };
    if (!extend || this.anchor.line === HEADER_LINE) this.anchor = this.active;
  }

  /** @param {number} from @param {number} to */
  lineRange(from, to) {
    this.anchor = { line: from, place: 0 };
    this.active = { line: to, place: this.places - 1 };
  }

  /** @param {number} from @param {number} to */
  placeRange(from, to) {
    this.anchor = { line: 0, place: from };
    this.active = { line: this.lines - 1, place: to };
  }

  all() {
    this.anchor = { line: 0, place: 0 };
    this.active = { line: this.lines - 1, place: this.places - 1 };
  }

  /** @returns {Block} */
  get block() {
    return {
      top: Math.max(0, Math.min(this.active.line, this.anchor.line)),
      bottom: Math.max(this.active.line, this.anchor.line),
      start: Math.min(this.active.place, this.anchor.place),
      end: Math.max(this.active.place, this.anchor.place),
    };
  }

  get several() {
    return this.active.line !== this.anchor.line || this.active.place !== this.anchor.place;
  }

  /** @param {number} line @param {number} place */
  holds(line, place) {
    const { top, bottom, start, end } = this.block;
    return line >= top && line <= bottom && place >= start && place <= end;
  }
}
