// @ts-check
// The picture with its marks laid over it: crosshair, pointer and keys.

import { PictureMarks } from "./picture_marks.js";

/** @typedef {import("./picture_marks.js").Place} Place */

const SVG = "http://www.w3.org/2000/svg";
const REACH_SCREEN_PX = 9;
const LENS_PX = 24;

/** @param {string} tag @param {Record<string, string|number>} attributes */
export function svg(tag, attributes) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  return made;
}

export class PictureStage {
  /**
   * @param {PictureMarks} marks
   * @param {string} address
   * @param {string} title
   */
  constructor(marks, address, title) {
    this.marks = marks;
    this.cross = { x: marks.width / 2, y: marks.height / 2 };
    this.zoom = 1;
    /** @type {{name: string, order: number|null, moved: boolean}|null} */
    this.held = null;

    this.element = document.createElement("div");
    this.element.className = "stage-scroll";
    this.board = document.createElement("div");
    this.board.className = "stage";
    this.board.tabIndex = 0;
    this.board.setAttribute("role", "application");
    this.board.setAttribute("aria-label", `Picture: ${title}`);
    this.board.setAttribute("aria-describedby", "desk-keys");
    const image = document.createElement("img");
    image.src = address;
    image.alt = title;
    image.draggable = false;
    image.width = marks.width;
    image.height = marks.height;
    this.overlay = svg("svg", { viewBox: `0 0 ${marks.width} ${marks.height}`, "aria-hidden": "true" });
    this.board.append(image, this.overlay);
    this.element.append(this.board);

    this.lens = svg("svg", { class: "lens", "aria-hidden": "true" });
    this.lens.append(svg("image", { href: address, width: marks.width, height: marks.height }));
    this.lens.append(svg("path", { class: "lens-cross", d: "" }));

    this.board.addEventListener("pointerdown", (event) => this.#press(event));
    this.board.addEventListener("pointermove", (event) => this.#drag(event));
    this.board.addEventListener("pointerup", () => (this.held = null));
    this.board.addEventListener("pointercancel", () => (this.held = null));
    this.board.addEventListener("keydown", (event) => this.#key(event));
    this.draw();
  }

  /** @param {number} factor */
  zoomBy(factor) {
    this.zoom = Math.min(Math.max(this.zoom * factor, 1), 8);
    this.board.style.width = `${this.zoom * 100}%`;
    this.draw();
    const box = this.element.getBoundingClientRect();
    const shown = this.board.getBoundingClientRect();
    this.element.scrollLeft = (this.cross.x / this.marks.width) * shown.width - box.width / 2;
    this.element.scrollTop = (this.cross.y / this.marks.height) * shown.height - box.height / 2;
  }

  draw() {
    const { marks, cross } = this;
    const px = this.#pxPerScreenPx();
    const parts = [];
    if (marks.outline.length) {
      const places = marks.outline.map(({ x, y }) => `${x},${y}`).join(" ");
      parts.push(svg("polygon", { class: "outline", points: places, "stroke-width": 2 * px }));
      for (const { x, y } of marks.outline) parts.push(svg("circle", { class: "outline-point", cx: x, cy: y, r: 2.5 * px }));
    }
    for (const [name, { x, y }] of marks.points) {
      const kind = name === marks.current ? "point current" : "point";
      parts.push(svg("circle", { class: kind, cx: x, cy: y, r: 5 * px, "stroke-width": 2 * px }));
      // Names would hide a small head: the others show when there is room.
      if (name !== marks.current && this.zoom < 2) continue;
      const words = svg("text", { x: x + 8 * px, y: y - 6 * px, "font-size": 12 * px, "stroke-width": 3 * px });
      words.textContent = name;
      parts.push(words);
    }
    const arm = 14 * px;
    const gap = 3 * px;
    const d =
      `M${cross.x - arm},${cross.y}h${arm - gap}M${cross.x + gap},${cross.y}h${arm - gap}` +
      `M${cross.x},${cross.y - arm}v${arm - gap}M${cross.x},${cross.y + gap}v${arm - gap}`;
    parts.push(svg("path", { class: "cross-under", d, "stroke-width": 4 * px }));
    parts.push(svg("path", { class: "cross", d, "stroke-width": 1.5 * px }));
    this.overlay.replaceChildren(...parts);
    this.lens.setAttribute("viewBox", `${cross.x - LENS_PX / 2} ${cross.y - LENS_PX / 2} ${LENS_PX} ${LENS_PX}`);
    this.lens.lastElementChild?.setAttribute("d", `M${cross.x - 8},${cross.y}h16M${cross.x},${cross.y - 8}v16`);
  }

  #pxPerScreenPx() {
    const width = this.board.getBoundingClientRect().width;
    return width ? this.marks.width / width : 1;
  }

  /** @param {PointerEvent} event @returns {Place} */
  #placeOf(event) {
    const box = this.board.getBoundingClientRect();
    return this.marks.inside({
      x: ((event.clientX - box.left) / box.width) * this.marks.width,
      y: ((event.clientY - box.top) / box.height) * this.marks.height,
    });
  }

  /** @param {PointerEvent} event */
  #press(event) {
    if (event.button !== 0) return;
    event.preventDefault();
    this.board.focus({ preventScroll: true });
    const place = this.#placeOf(event);
    this.cross = place;
    const near = this.#near(place);
    if (near) {
      this.held = near;
      this.board.setPointerCapture(event.pointerId);
      this.marks.choose(near.order === null ? near.name : this.marks.outlineName);
      return;
    }
    this.#put(place);
  }

  /** @param {PointerEvent} event */
  #drag(event) {
    if (!this.held) return;
    const place = this.#placeOf(event);
    this.cross = place;
    this.marks.move(this.held.name, this.held.order, place, this.held.moved);
    if (this.held) this.held.moved = true;
  }

  /** @param {Place} place */
  #near(place) {
    const reach = REACH_SCREEN_PX * this.#pxPerScreenPx();
    const close = this.marks
      .all()
      .map((mark) => ({ ...mark, distance: Math.hypot(mark.x - place.x, mark.y - place.y) }))
      .filter((mark) => mark.distance <= reach)
      .sort((a, b) => a.distance - b.distance)[0];
    // A set point is taken hold of; while another is still to be set, only a close press does.
    if (!close) return null;
    const setting = this.marks.current === this.marks.outlineName || !this.marks.points.has(this.marks.current);
    if (setting && close.distance > reach / 2) return null;
    return { name: close.name, order: close.order, moved: false };
  }

  /** @param {Place} place */
  #put(place) {
    this.marks.set(place);
    this.marks.goOn();
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const step = event.shiftKey ? 10 : event.altKey ? 0.2 : 1;
    const moves = /** @type {Record<string, [number, number]>} */ ({
      ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1],
    });
    const control = event.ctrlKey || event.metaKey;
    const key = event.key.toLowerCase();
    if (event.key in moves && !control) {
      const [dx, dy] = moves[event.key];
      this.cross = this.marks.inside({ x: this.cross.x + dx * step, y: this.cross.y + dy * step });
      this.draw();
    } else if (event.key === "Enter" || event.key === " ") this.#put(this.cross);
    else if (event.key === "Delete" || event.key === "Backspace") this.marks.remove();
    else if (event.key === "PageDown" || key === "n") this.marks.chooseBy(1);
    else if (event.key === "PageUp" || key === "p") this.marks.chooseBy(-1);
    else if (key === "o" && this.marks.outlineName) this.marks.choose(this.marks.outlineName);
    else if (event.key === "+" || event.key === "=") this.zoomBy(1.5);
    else if (event.key === "-") this.zoomBy(1 / 1.5);
    else if (control && key === "z") event.shiftKey ? this.marks.redo() : this.marks.undo();
    else if (control && key === "y") this.marks.redo();
    else return;
    event.preventDefault();
    event.stopPropagation();
  }
}
