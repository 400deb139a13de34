// @ts-check
// The marks of one picture while they are being set: points, outline, undo. No page in here.

/** @typedef {{x: number, y: number}} Place */
/** @typedef {{name: string, order: number|null, x: number, y: number}} Mark */

export class PictureMarks extends EventTarget {
  /**
   * @param {string[]} names @param {string} outlineName empty where no outline is drawn
   * @param {number} width @param {number} height
   */
  constructor(names, outlineName, width, height) {
    super();
    this.names = names;
    this.outlineName = outlineName;
    this.width = width;
    this.height = height;
    /** @type {Map<string, Place>} */
    this.points = new Map();
    /** @type {Place[]} */
    this.outline = [];
    this.current = names[0];
    this.version = "";
    this.dirty = false;
    /** @type {string[]} */
    this.past = [];
    /** @type {string[]} */
    this.future = [];
  }

  /** @param {Mark[]} marks @param {string} version */
  load(marks, version) {
    for (const mark of marks) {
      if (mark.order === null) this.points.set(mark.name, { x: mark.x, y: mark.y });
    }
    this.outline = marks
      .filter((mark) => mark.order !== null)
      .sort((a, b) => Number(a.order) - Number(b.order))
      .map(({ x, y }) => ({ x, y }));
    this.version = version;
    this.current = this.names.find((name) => !this.points.has(name)) ?? this.names[0];
  }

  /** @returns {Mark[]} */
  all() {
    return [
      ...this.names.flatMap((name) => {
        const place = this.points.get(name);
        return place ? [{ name, order: null, ...place }] : [];
      }),
      ...this.outline.map((place, index) => ({ name: this.outlineName, order: index + 1, ...place })),
    ];
  }

  /** Set the current point, or add to the outline. @param {Place} place */
  set(place) {
    this.#change(() => {
      if (this.current === this.outlineName) this.outline.push(this.inside(place));
      else this.points.set(this.current, this.inside(place));
    });
  }

  /**
   * Move a point; the steps of one drag are taken back as one.
   * @param {string} name @param {number|null} order @param {Place} place @param {boolean} [goingOn]
   */
  move(name, order, place, goingOn = false) {
    this.#change(() => {
      if (order === null) this.points.set(name, this.inside(place));
      else this.outline[order - 1] = this.inside(place);
    }, goingOn);
  }

  /** Take the current point away, or the last of the outline. */
  remove() {
    this.#change(() => {
      if (this.current === this.outlineName) this.outline.pop();
      else this.points.delete(this.current);
    });
  }

  /** Go to the next point that is not set. */
  goOn() {
    if (this.current === this.outlineName) return;
    const from = this.names.indexOf(this.current) + 1;
    const order = [...this.names.slice(from), ...this.names.slice(0, from)];
    const next = order.find((name) => !this.points.has(name));
    if (next) this.choose(next);
  }

  /** @param {string} name */
  choose(name) {
    this.current = name;
    this.dispatchEvent(new Event("change"));
  }

  /** @param {number} step */
  chooseBy(step) {
    const all = this.outlineName ? [...this.names, this.outlineName] : this.names;
    this.choose(all[(all.indexOf(this.current) + step + all.length) % all.length]);
  }

  undo() {
    this.#travel(this.past, this.future);
  }

  redo() {
    this.#travel(this.future, this.past);
  }

  /** @param {Place} place @returns {Place} */
  inside({ x, y }) {
    const within = (/** @type {number} */ value, /** @type {number} */ most) =>
      Math.round(Math.min(Math.max(value, 0), most) * 10) / 10;
    return { x: within(x, this.width), y: within(y, this.height) };
  }

  /** @param {() => void} act @param {boolean} [goingOn] */
  #change(act, goingOn = false) {
    if (!goingOn) this.past.push(this.#state());
    this.future = [];
    act();
    this.dirty = true;
    this.dispatchEvent(new Event("change"));
  }

  #state() {
    return JSON.stringify([[...this.points], this.outline, this.current]);
  }

  /** @param {string[]} from @param {string[]} to */
  #travel(from, to) {
    const state = from.pop();
    if (state === undefined) return;
    to.push(this.#state());
    const [points, outline, current] = JSON.parse(state);
    this.points = new Map(points);
    this.outline = outline;
    this.current = current;
    this.dirty = true;
    this.dispatchEvent(new Event("change"));
  }
}
