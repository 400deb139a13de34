// @ts-check
// What if: choices moved by sliders, and the numbers and figures as they would be, at once.
// Nothing is changed until the choice is written into study.toml with a reason.

import { catchUp } from "./live.js";
import { send } from "./server.js";

/**
 * @typedef {{name: string, kind: "choice"|"stem_age"|"tissue", title: string, unit: string, least: number, most: number,
 *   step: number, low: number, value: number, high: number, reason: string}} Control
 * @typedef {{key: string, about: string, title: string, unit: string, words: string,
 *   pooled: boolean, href: string, middle: number, half: [number, number]|null,
 *   most: [number, number]|null}} Answer
 * @typedef {{controls: Control[], answers: Answer[], shadow: [number, number][][],
 *   legs_mm: number[]}} WhatIf
 */

const SVG = "http://www.w3.org/2000/svg";
const ROW = 30;
const LEFT = 4;
const WIDTH = 520;

/** @param {string} name @param {Record<string, string|number>} [attributes] @param {string} [text] */
function draw(name, attributes = {}, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  if (text) made.textContent = text;
  return made;
}

/** @param {string} name @param {string} [text] @param {string} [kind] */
function make(name, text = "", kind = "") {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  if (kind) made.className = kind;
  return made;
}

class WhatIfDesk extends HTMLElement {
  /** @type {Record<string, number>} */
  values = {};
  /** @type {WhatIf|null} */
  written = null;
  /** @type {WhatIf|null} */
  now = null;
  waiting = false;
  asking = false;
  /** @type {[number, number]} ends of the masses shown since nothing was moved */
  span = [Infinity, -Infinity];
  seen = -1;

  connectedCallback() {
    this.view = document.body.dataset.view ?? "";
    this.sliders = make("div", "", "what-if-sliders");
    this.figures = make("div", "", "what-if-figures");
    this.table = make("div", "", "what-if-numbers");
    this.said = make("p", "", "what-if-said");
    this.said.setAttribute("role", "status");
    this.foot = this.#foot();
    this.tissues = make("details", "", "what-if-tissues");
    this.tissues.append(make("summary", "Densities of single tissues"), make("div", "", "what-if-sliders"));
    this.append(this.sliders, this.tissues, this.said, this.figures, this.table, this.foot);
    document.addEventListener("state", (event) => {
      const state = /** @type {CustomEvent<import("./server.js").State>} */ (event).detail;
      if (state.computing || state.number === this.seen) return;
      this.seen = state.number;
      if (this.isOpen()) void this.#begin();
    });
    this.closest("details")?.addEventListener("toggle", () => {
      if (this.isOpen() && !this.written) void this.#begin();
    });
    if (this.isOpen()) void this.#begin();
  }

  isOpen() {
    return this.closest("details")?.open ?? true;
  }

  moved() {
    return (this.written?.controls ?? []).filter(
      (control) => control.name in this.values && this.values[control.name] !== control.value,
    );
  }

  async #begin() {
    try {
      this.written = await send("/api/what-if", { view: this.view });
    } catch (fault) {
      this.#say(document.body.dataset.computing === "yes" ? "The numbers come once the results are computed." : fault);
      return;
    }
    this.#say("");
    const controls = /** @type {WhatIf} */ (this.written).controls;
    for (const name of Object.keys(this.values)) {
      if (!controls.some((control) => control.name === name)) delete this.values[name];
    }
    const tissues = controls.filter((control) => control.kind === "tissue").map((control) => this.#slider(control));
    const others = controls.filter((control) => control.kind !== "tissue").map((control) => this.#slider(control));
    this.sliders?.replaceChildren(...others);
    this.tissues?.lastElementChild?.replaceChildren(...tissues);
    if (this.tissues) this.tissues.hidden = tissues.length === 0;
    if (controls.length === 0) this.#say("Nothing can be moved here yet.");
    this.now = this.written;
    this.span = [Infinity, -Infinity];
    this.#show();
    if (this.moved().length) void this.#ask();
  }

  /** @param {Control} control */
  #slider(control) {
    const place = make("div", "", "what-if-slider");
    const id = `what-if-${control.name}`;
    const label = /** @type {HTMLLabelElement} */ (make("label", control.title));
    label.htmlFor = id;
    const field = document.createElement("input");
    Object.assign(field, { type: "range", id, min: control.least, max: control.most, step: control.step });
    field.value = String(this.values[control.name] ?? control.value);
    const shown = make("output");
    const digits = control.step < 0.01 ? 4 : 3;
    const say = () => {
      const value = Number(field.value);
      shown.textContent = `${number(value, digits)} ${control.unit}`;
      field.setAttribute("aria-valuetext", `${number(value, digits)} ${control.unit}`);
    };
    field.addEventListener("input", () => {
      this.values[control.name] = Number(field.value);
      say();
      void this.#ask();
    });
    say();
    const was = make("span", `written: ${number(control.value, digits)} (${number(control.low, digits)} to ${number(control.high, digits)})`, "quiet");
    place.append(label, field, shown, was);
    return place;
  }

  /** Ask for the numbers; while an answer is on its way only the newest question waits. */
  async #ask() {
    if (this.asking) {
      this.waiting = true;
      return;
    }
    this.asking = true;
    const began = performance.now();
    try {
      this.now = await send("/api/what-if", { view: this.view, values: this.values });
      this.#say("");
      this.#show();
      this.dataset.tookMs = String(Math.round(performance.now() - began));
    } catch (fault) {
      this.#say(fault);
    }
    this.asking = false;
    if (this.waiting) {
      this.waiting = false;
      void this.#ask();
    }
  }

  /** @param {unknown} words */
  #say(words) {
    if (this.said) this.said.textContent = words instanceof Error ? words.message : String(words);
  }

  #show() {
    if (!this.now || !this.written) return;
    const moved = this.moved().length > 0;
    this.classList.toggle("moved", moved);
    const figures = this.now.answers.some(isMass) ? [this.#lines()] : [];
    if (this.now.shadow.length) figures.push(this.#shadow());
    if (this.now.legs_mm.length) figures.push(this.#legs());
    this.figures?.replaceChildren(...figures);
    this.table?.replaceChildren(this.#numbers(moved));
    for (const control of /** @type {HTMLElement} */ (this.foot).querySelectorAll("button, input")) {
      /** @type {HTMLButtonElement} */ (control).disabled = !moved;
    }
  }

  /** The intervals of every line of evidence on mass: as written, and as they would be. */
  #lines() {
    const now = (this.now?.answers ?? []).filter(isMass);
    const before = new Map((this.written?.answers ?? []).map((answer) => [answer.key, answer]));
    const ends = now.flatMap((answer) => [...(answer.most ?? []), ...(before.get(answer.key)?.most ?? [])]);
    // While something is moved the axis only grows, so that it does not jump about.
    this.span = [Math.min(this.span[0], ...ends), Math.max(this.span[1], ...ends)];
    const ticks = niceTicks(...this.span);
    const from = ticks[0];
    const to = ticks[ticks.length - 1];
    const x = (/** @type {number} */ value) => LEFT + ((value - from) / (to - from || 1)) * (WIDTH - 2 * LEFT);
    const height = now.length * ROW * 1.35 + 26;
    const svg = draw("svg", { viewBox: `0 0 ${WIDTH} ${height}`, role: "img", class: "what-if-lines" });
    svg.append(draw("title", {}, "Body mass by each line of evidence, in kg: as written, and what if"));
    for (const tick of ticks) {
      svg.append(draw("line", { x1: x(tick), x2: x(tick), y1: 0, y2: height - 20, class: "tick-line" }));
      svg.append(draw("text", { x: Math.min(WIDTH - 14, Math.max(10, x(tick))), y: height - 6, class: "tick-words" }, number(tick)));
    }
    svg.append(draw("text", { x: WIDTH - 2, y: height - 24, class: "axis-words" }, "kg"));
    now.forEach((answer, place) => {
      const y = place * ROW * 1.35 + 24;
      svg.append(draw("text", { x: LEFT, y: y - 9, class: answer.pooled ? "line-words pooled" : "line-words" }, answer.title + (answer.pooled ? "" : " (not pooled)")));
      const was = before.get(answer.key);
      if (was?.most) svg.append(...interval(was, x, y + 7, "was"));
      svg.append(...interval(answer, x, y, "now"));
    });
    return figure(svg, "Body mass by each line: middle, half (thick) and 19 in 20 (thin) of the imagined worlds. Above as it would be, below in grey as it is written.");
  }

  /** The body from the side. */
  #shadow() {
    const points = [...(this.now?.shadow ?? []), ...(this.written?.shadow ?? [])].flat();
    const xs = points.map((point) => point[0]);
    const ys = points.map((point) => point[1]);
    const [left, right, top] = [Math.min(...xs), Math.max(...xs), Math.max(...ys)];
    const margin = 0.05 * (right - left);
    const letters = 0.035 * top;
    const svg = draw("svg", {
      viewBox: `${left - margin} ${-top - margin} ${right - left + 2 * margin} ${top + 2.4 * margin + 1.5 * letters}`,
      role: "img",
      class: "what-if-shadow",
    });
    svg.append(draw("title", {}, "The grown body from the side"));
    const path = (/** @type {[number, number][][]} */ outlines) =>
      outlines.map((outline) => `M${outline.map(([px, py]) => `${px.toFixed(1)},${(-py).toFixed(1)}`).join("L")}Z`).join("");
    svg.append(draw("path", { d: path(this.now?.shadow ?? []), class: "body-now" }));
    svg.append(draw("path", { d: path(this.written?.shadow ?? []), class: "body-was" }));
    svg.append(draw("line", { x1: left, x2: right, y1: 0, y2: 0, class: "ground" }));
    const bar = 100;
    svg.append(draw("line", { x1: left, x2: left + bar, y1: margin, y2: margin, class: "scale-bar" }));
    svg.append(draw("text", { x: left, y: 1.3 * margin + letters, class: "scale-words", "font-size": letters }, "100 mm"));
    return figure(svg, "The middle body from the side, with that much fat; the line is the body as written. It stands as it does in the last run.");
  }

  /** The leg bones at their angles. */
  #legs() {
    const lengths = this.now?.legs_mm ?? [];
    const at = (/** @type {string} */ name, /** @type {WhatIf|null} */ from) => {
      const control = (from?.controls ?? []).find((one) => one.name === name);
      const value = from === this.written ? control?.value : (this.values[name] ?? control?.value);
      return ((value ?? 0) * Math.PI) / 180;
    };
    const stand = (/** @type {WhatIf|null} */ from) => {
      // From the toes up: tarsometatarsus leans back, tibiotarsus forward, femur back to the hip.
      const angles = ["tarsometatarsus_angle", "tibiotarsus_angle", "femur_angle"].map((name) => at(name, from));
      const along = [lengths[2], lengths[1], lengths[0]];
      const points = [[0, 0]];
      [-1, 1, -1].forEach((way, place) => {
        const [px, py] = points[place];
        points.push([px + way * along[place] * Math.sin(angles[place]), py - along[place] * Math.cos(angles[place])]);
      });
      return points;
    };
    const was = stand(this.written);
    const now = stand(this.now === this.written ? this.written : this.now);
    const reach = lengths.reduce((sum, length) => sum + length, 0);
    const svg = draw("svg", { viewBox: `${-0.5 * reach} ${-1.05 * reach} ${reach} ${1.15 * reach}`, role: "img", class: "what-if-legs" });
    svg.append(draw("title", {}, "Femur, tibiotarsus and tarsometatarsus at their angles, from the side, walking to the right"));
    svg.append(draw("line", { x1: -0.4 * reach, x2: 0.4 * reach, y1: 0, y2: 0, class: "ground" }));
    for (const [points, kind] of /** @type {[number[][], string][]} */ ([[was, "leg-was"], [now, "leg-now"]])) {
      svg.append(draw("polyline", { points: points.map((point) => point.join(",")).join(" "), class: kind }));
    }
    return figure(svg, "The leg bones at mid-step, from the side; the broken line as written.");
  }

  /** @param {boolean} moved */
  #numbers(moved) {
    const table = make("table", "", "what-if-table");
    const head = make("tr");
    for (const words of ["", "as written", ...(moved ? ["what if"] : [])]) {
      const cell = make(words ? "th" : "td", words);
      if (words) cell.setAttribute("scope", "col");
      head.append(cell);
    }
    const before = new Map((this.written?.answers ?? []).map((answer) => [answer.key, answer]));
    const top = make("thead");
    top.append(head);
    const body = make("tbody");
    for (const answer of this.now?.answers ?? []) {
      const row = make("tr");
      const title = make("th");
      title.setAttribute("scope", "row");
      if (answer.href) {
        const link = /** @type {HTMLAnchorElement} */ (make("a", answer.title));
        link.href = answer.href;
        title.append(link);
      } else title.textContent = answer.title;
      const was = before.get(answer.key);
      row.append(title, make("td", was?.words ?? ""));
      if (moved) row.append(make("td", answer.words, was?.words === answer.words ? "quiet" : "changed-number"));
      body.append(row);
    }
    table.append(top, body);
    return table;
  }

  #foot() {
    const form = /** @type {HTMLFormElement} */ (make("form", "", "what-if-form"));
    const label = make("label", "Reason ");
    const reason = document.createElement("input");
    Object.assign(reason, { name: "reason", required: true, maxLength: 2000, autocomplete: "off", disabled: true });
    label.append(reason);
    const write = make("button", "Write this choice into the study", "main-button");
    const back = /** @type {HTMLButtonElement} */ (make("button", "Back to what is written"));
    back.type = "button";
    back.disabled = true;
    /** @type {HTMLButtonElement} */ (write).disabled = true;
    back.addEventListener("click", () => {
      this.values = {};
      void this.#begin();
    });
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      void this.#write(reason);
    });
    form.append(label, write, back);
    return form;
  }

  /** @param {HTMLInputElement} reason */
  async #write(reason) {
    /** @type {Record<string, [number, number, number]>} */
    const ranges = {};
    /** @type {Record<string, [number, number, number]>} */
    const tissues = {};
    let stem = null;
    for (const control of this.moved()) {
      const range = movedRange(control, this.values[control.name]);
      if (control.kind === "stem_age") stem = [range[0], range[2]];
      else if (control.kind === "tissue") tissues[control.name.replace("tissue.", "")] = range;
      else ranges[control.name] = range;
    }
    const places = [];
    if (stem || Object.keys(ranges).length) places.push("study.toml");
    if (Object.keys(tissues).length) places.push("the table of tissues");
    try {
      await send("/api/choices", { ranges, stem_age: stem, tissues, reason: reason.value });
      this.values = {};
      reason.value = "";
      this.#say(`Written into ${places.join(" and ")}.`);
      await catchUp();
    } catch (fault) {
      this.#say(fault);
    }
  }
}

/** @param {Answer} answer */
function isMass(answer) {
  return answer.unit === "kg" && !answer.key.startsWith("body.grown.fat.");
}

/** The range moves along with its best value, and is cut off where the slider ends.
 * @param {Control} control @param {number} value @returns {[number, number, number]} */
function movedRange(control, value) {
  const by = value - control.value;
  const low = control.low + by;
  const high = control.high + by;
  return [
    low < control.low ? Math.min(value, Math.max(control.least, low)) : low,
    value,
    high > control.high ? Math.max(value, Math.min(control.most, high)) : high,
  ];
}

/** @param {Answer} answer @param {(value: number) => number} x @param {number} y @param {string} kind */
function interval(answer, x, y, kind) {
  if (!answer.most || !answer.half) return [];
  return [
    draw("line", { x1: x(answer.most[0]), x2: x(answer.most[1]), y1: y, y2: y, class: `thin-${kind}` }),
    draw("line", { x1: x(answer.half[0]), x2: x(answer.half[1]), y1: y, y2: y, class: `thick-${kind}` }),
    draw("circle", { cx: x(answer.middle), cy: y, r: kind === "now" ? 4.5 : 3, class: `dot-${kind}` }),
  ];
}

/** @param {Element} svg @param {string} words */
function figure(svg, words) {
  const place = make("figure", "", "what-if-figure");
  const paper = make("div", "", "drawing");
  paper.append(svg);
  place.append(paper, make("figcaption", words));
  return place;
}

/** @param {number} value @param {number} [digits] */
function number(value, digits = 3) {
  return String(Number(value.toPrecision(digits)));
}

/** @param {number} low @param {number} high */
function niceTicks(low, high) {
  const rough = (high - low) / 5 || 1;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((factor) => factor * power).find((size) => size >= rough) ?? rough;
  const ticks = [];
  for (let tick = Math.floor(low / step) * step; ; tick += step) {
    ticks.push(Number(tick.toPrecision(6)));
    if (tick >= high) return ticks;
  }
}

customElements.define("what-if", WhatIfDesk);
