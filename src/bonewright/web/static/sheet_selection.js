// @ts-check
// The active cell of a grid and the block selected around it, counted in lines shown.

/** @typedef {{line: number, place: number}} Spot */
/** @typedef {{top: number, bottom: number, start: number, end: number}} Block */

export const HEADER_LINE = -1;

export class SheetSelection {
  /** @type {Spot} where the focus is */
  active = { line: 0, place: 0 };
  /** @type {Spot} where the block was begun */
  anchor = { line: 0, place: 0 };
  /** @type {Spot} the opposite corner of the block */
  reach = { line: 0, place: 0 };
  lines = 0;
  places = 0;

  /** How much there is to select. @param {number} lines @param {number} places */
  bound(lines, places) {
    this.lines = lines;
    this.places = places;
    /** @param {Spot} spot @returns {Spot} */
    const within = ({ line, place }) => ({
      line: Math.min(line, Math.max(lines - 1, 0)),
      place: Math.min(place, Math.max(places - 1, 0)),
    });
    this.active = within(this.active);
    this.anchor = within(this.anchor);
    this.reach = within(this.reach);
  }

  /** @param {number} line @param {number} place @param {boolean} [extend] keep the anchor */
  move(line, place, extend = false) {
    const top = extend ? 0 : HEADER_LINE;
    this.active = {
      line: Math.max(top, Math.min(line, this.lines - 1)),
      place: Math.max(0, Math.min(place, this.places - 1)),
    };
    this.reach = this.active;
    if (!extend || this.anchor.line === HEADER_LINE) this.anchor = this.active;
  }

  /** Select a block, with the focus on its first cell. @param {Block} block */
  select({ top, bottom, start, end }) {
    this.move(top, start);
    this.reach = { line: Math.min(bottom, this.lines - 1), place: Math.min(end, this.places - 1) };
  }

  /** Select whole rows; the focus goes along within its column. @param {number} from @param {number} to */
  lineRange(from, to) {
    this.active = { line: to, place: this.active.place };
    this.anchor = { line: from, place: 0 };
    this.reach = { line: to, place: this.places - 1 };
  }

  /** @param {number} from @param {number} to */
  placeRange(from, to) {
    this.anchor = { line: 0, place: from };
    this.reach = { line: this.lines - 1, place: to };
  }

  all() {
    this.anchor = { line: 0, place: 0 };
    this.reach = { line: this.lines - 1, place: this.places - 1 };
  }

  /** @returns {Block} */
  get block() {
    const { reach, anchor } = this;
    return {
      top: Math.max(0, Math.min(reach.line, anchor.line)),
      bottom: Math.max(reach.line, anchor.line),
      start: Math.min(reach.place, anchor.place),
      end: Math.max(reach.place, anchor.place),
    };
  }

  get several() {
    return this.reach.line !== this.anchor.line || this.reach.place !== this.anchor.place;
  }

  /** @param {number} line @param {number} place */
  holds(line, place) {
    const { top, bottom, start, end } = this.block;
    return line >= top && line <= bottom && place >= start && place <= end;
  }
}
