// @ts-check
// The animal in the round on the body's page: what is shown, turning it by pointer and by
// keyboard, measuring between points, cutting it by a plane, and its outline true to scale.
// The library that draws is fetched when a person asks for it; where the browser cannot draw
// in the round, the still picture stays.

import { read, send, wordsOf } from "./server.js";

/** @typedef {import("./round_scene.js").RoundScene} Scene */
/** @typedef {{name: string, at_mm: [number, number, number]}} NamedPoint */
/** @typedef {{number: number, points: NamedPoint[], scans: {name: string, title: string}[],
 *   mount_mm: [number, number][]}} Shown */
/** @typedef {{name: string, at_mm: [number, number, number]|null}} End */

const TURN = 5;
const TURN_FAR = 30;
const CLOSER = 1.25;
const SHIFT = 0.06;
const CLICK_PX = 4;
const POINTED = "the place pointed at";
const SEEN = { side: [0, 0], front: [90, 0], above: [0, 90], "three quarters": [50, 15] };

/** @param {string} name @param {string} [text] @param {Record<string, string>} [attributes]
 * @returns {any} */
function make(name, text = "", attributes = {}) {
  const made = document.createElement(name);
  if (text) made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

/** @param {string} words @param {HTMLElement} field */
function labelled(words, field) {
  const label = make("label");
  if (field instanceof HTMLInputElement && field.type === "checkbox") label.append(field, ` ${words}`);
  else {
    // A list inside its label would be named with all its choices.
    field.setAttribute("aria-label", words);
    label.append(`${words} `, field);
  }
  return label;
}

/** @param {string[][]} options value and words each */
function choice(options) {
  const field = make("select");
  for (const [value, words] of options) field.append(new Option(words, value));
  return field;
}

/** @param {string} words @param {() => void} act */
function button(words, act) {
  const made = make("button", words, { type: "button" });
  made.addEventListener("click", act);
  return made;
}

class RoundView extends HTMLElement {
  /** @type {Scene|null} */
  scene = null;
  /** @type {Shown|null} */
  shown = null;
  /** @type {Set<string>} */
  fetched = new Set();
  /** @type {[any, any]} */
  pointed = [null, null];
  next = 0;

  connectedCallback() {
    this.said = make("p", "", { role: "status", class: "round-said" });
    this.begin = button("Show it in the round", () => void this.open());
    this.append(this.begin, this.said);
    document.addEventListener("state", (event) => {
      const state = /** @type {CustomEvent<import("./server.js").State>} */ (event).detail;
      if (this.scene && this.shown && !state.computing && state.number !== this.shown.number) void this.#again();
    });
  }

  async open() {
    this.begin.disabled = true;
    this.#say("Fetching the body…");
    try {
      const [library, shown] = await Promise.all([import("./round_scene.js"), read("/api/round")]);
      this.shown = shown;
      this.#lay();
      try {
        this.scene = new library.RoundScene(this.canvas);
      } catch {
        this.#stayStill();
        return;
      }
      this.begin.remove();
      await this.#dress();
      this.#outlineOfMount();
      this.scene.frame();
      this.#look("three quarters");
      this.#say("");
      this.canvas.focus();
      this.dataset.ready = "yes";
    } catch (fault) {
      this.begin.disabled = false;
      this.#say(wordsOf(fault));
    }
  }

  /** Keep a still picture where nothing can be drawn in the round. */
  #stayStill() {
    this.room.remove();
    this.begin.remove();
    this.append(make("img", "", { src: "/figure/standing_body.svg", alt: "The standing body from the side, the front and above." }));
    this.#say("This browser cannot draw in the round here, so the body is shown from three sides.");
    this.dataset.ready = "still";
  }

  /** The study was computed again: fetch the body that it is now. */
  async #again() {
    try {
      this.shown = /** @type {Shown} */ (await read("/api/round"));
      for (const name of this.fetched) this.scene?.remove(name);
      this.fetched.clear();
      await this.#dress();
      this.#outlineOfMount();
      this.#cut();
      await this.#measure();
    } catch (fault) {
      this.#say(wordsOf(fault));
    }
  }

  /** @param {string} words */
  #say(words) {
    this.said.textContent = words;
  }

  #lay() {
    const shown = /** @type {Shown} */ (this.shown);
    this.canvas = make("canvas", "", {
      tabindex: "0",
      role: "application",
      "aria-label": "The body in the round. Arrow keys turn it, plus and minus bring it nearer.",
      "aria-describedby": "round-keys",
    });
    this.scaleBar = make("span", "", { class: "round-bar" });
    const stage = make("div", "", { class: "round-stage" });
    stage.append(this.canvas, this.scaleBar);
    this.room = make("div", "", { class: "round-room" });
    this.room.append(stage, this.#settings(shown));
    this.append(this.room);
    this.#turnByKeyboard();
    this.#turnByPointer();
  }

  /** @param {Shown} shown */
  #settings(shown) {
    const settings = make("div", "", { class: "round-settings" });
    this.flesh = choice([["", "none"], ["lean", "lean"], ["mean", "over the year"], ["fat", "fat"]]);
    this.flesh.value = "mean";
    this.plumage = make("input", "", { type: "checkbox" });
    this.bones = make("input", "", { type: "checkbox" });
    this.bones.checked = true;
    this.scan = choice([["", "none"], ...shown.scans.map((scan) => [scan.name, scan.title])]);
    this.mount = make("input", "", { type: "checkbox" });
    const what = this.#group("Shown", [labelled("Flesh", this.flesh), labelled("Plumage", this.plumage), labelled("Bones", this.bones)]);
    if (shown.scans.length) what.append(labelled("Scan laid over", this.scan));
    if (shown.mount_mm.length) what.append(labelled("Outline of the earlier mount", this.mount));
    for (const field of [this.flesh, this.plumage, this.bones, this.scan, this.mount]) {
      field.addEventListener("change", () => void this.#dress());
    }

    const seen = this.#group("Seen from", Object.keys(SEEN).map((name) => button(name, () => this.#look(name))));
    seen.append(make("p", "Arrow keys turn, with Shift farther; plus and minus bring nearer; Alt and arrow keys move it aside. Drag turns, the wheel with Ctrl brings nearer.", { class: "quiet", id: "round-keys" }));

    const ends = [["", "choose"], ["*", POINTED], ...shown.points.map((point) => [point.name, point.name])];
    this.ends = [choice(ends), choice(ends)];
    this.distance = make("p", "", { class: "round-distance", role: "status" });
    const measure = this.#group("Measure", [labelled("From", this.ends[0]), labelled("to", this.ends[1])]);
    measure.append(this.distance, make("p", "Or press on the body at one place and then at another.", { class: "quiet" }));
    for (const field of this.ends) field.addEventListener("change", () => void this.#measure());

    this.cutHow = choice([["", "not"], ["across", "across"], ["lengthwise", "lengthwise"], ["level", "level"]]);
    this.cutAt = make("input", "", { type: "range", min: "0", max: "1", step: "0.005", value: "0.5", "aria-label": "Place of the cut" });
    this.cutSaid = make("output");
    this.cutHow.addEventListener("change", () => this.#cut());
    this.cutAt.addEventListener("input", () => this.#cut());
    const cut = this.#group("Cut", [labelled("Cut it", this.cutHow), this.cutAt, this.cutSaid]);

    this.outlineScale = make("input", "", { type: "number", min: "0.1", max: "1000", step: "any", value: "1" });
    this.outline = make("a", "Keep the outline (SVG, mm)", { download: "", href: "/round/outline.svg" });
    this.outlineScale.addEventListener("input", () => this.#addressOutline());
    const keep = this.#group("Outline from this side", [labelled("Scale 1 to", this.outlineScale), this.outline]);
    keep.append(make("p", "As it is turned now, of the flesh and plumage chosen.", { class: "quiet" }));

    settings.append(what, seen, measure, cut, keep);
    return settings;
  }

  /** @param {string} title @param {HTMLElement[]} fields */
  #group(title, fields) {
    const group = make("fieldset");
    group.append(make("legend", title), ...fields);
    return group;
  }

  /** Show what is chosen, fetching what has not come yet. */
  async #dress() {
    const scene = /** @type {Scene} */ (this.scene);
    const shown = /** @type {Shown} */ (this.shown);
    const flesh = this.flesh.value;
    const first = this.fetched.size === 0;
    /** @type {[string, string, boolean, {opacity?: number, order?: number}][]} */
    const wanted = [
      ["bones", "/solid/bones.glb", this.bones.checked, { order: 1 }],
      ...["lean", "mean", "fat"].map((state) => /** @type {[string, string, boolean, object]} */ ([
        state, `/solid/body-${state}.glb`, flesh === state, { opacity: 0.55, order: 2 },
      ])),
      ["plumage", "/solid/body-plumage.glb", this.plumage.checked, { opacity: 0.3, order: 3 }],
      ...shown.scans.map((scan) => /** @type {[string, string, boolean, object]} */ ([
        `scan ${scan.name}`, `/solid/scan-${encodeURIComponent(scan.name)}.glb`, this.scan.value === scan.name, { opacity: 0.5, order: 4 },
      ])),
    ];
    try {
      for (const [name, address, on, look] of wanted) {
        if (on && !this.fetched.has(name)) {
          this.#say("Fetching a solid…");
          await scene.load(name, `${address}?run=${shown.number}`, look);
          this.fetched.add(name);
        }
        scene.show(name, on);
      }
      this.#say("");
    } catch (fault) {
      this.#say(wordsOf(fault));
    }
    scene.show("mount", this.mount.checked);
    // Opened up, the flesh is solid; over bones it is seen through.
    if (!first) this.#cut();
    this.#addressOutline();
    scene.draw();
  }

  #outlineOfMount() {
    const scene = /** @type {Scene} */ (this.scene);
    const outline = this.shown?.mount_mm ?? [];
    if (!outline.length) return;
    scene.addOutline("mount", outline);
    scene.show("mount", this.mount.checked);
  }

  /** @param {string} name */
  #look(name) {
    const [azimuth, elevation] = SEEN[/** @type {keyof typeof SEEN} */ (name)];
    this.#turnTo(azimuth, elevation);
  }

  /** @param {number} azimuth @param {number} elevation */
  #turnTo(azimuth, elevation) {
    const scene = /** @type {Scene} */ (this.scene);
    scene.afterDrawing = () => this.#showBar();
    scene.lookFrom(azimuth, elevation);
    this.dataset.azimuth = scene.azimuth.toFixed(1);
    this.dataset.elevation = scene.elevation.toFixed(1);
    this.#addressOutline();
  }

  #showBar() {
    const { mm, share } = /** @type {Scene} */ (this.scene).bar();
    this.scaleBar.textContent = `${mm} mm`;
    this.scaleBar.style.width = `${(100 * share).toFixed(2)}%`;
  }

  #addressOutline() {
    const scene = this.scene;
    if (!scene) return;
    const wanted = new URLSearchParams({
      state: this.flesh.value || "mean",
      plumage: String(this.plumage.checked),
      azimuth: scene.azimuth.toFixed(1),
      elevation: scene.elevation.toFixed(1),
      scale: this.outlineScale.validity.valid && this.outlineScale.value ? this.outlineScale.value : "1",
    });
    this.outline.href = `/round/outline.svg?${wanted}`;
  }

  #turnByKeyboard() {
    this.canvas.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
      const scene = this.scene;
      if (!scene || event.ctrlKey || event.metaKey) return;
      const by = event.shiftKey ? TURN_FAR : TURN;
      /** @type {Record<string, [number, number]>} */
      const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
      const arrow = arrows[event.key];
      if (arrow && event.altKey) scene.shift(SHIFT * arrow[0], SHIFT * arrow[1]);
      else if (arrow) this.#turnTo(scene.azimuth + by * arrow[0], scene.elevation + by * arrow[1]);
      else if (event.key === "+" || event.key === "=") scene.comeCloser(CLOSER);
      else if (event.key === "-") scene.comeCloser(1 / CLOSER);
      else if (event.key === "Home") {
        scene.frame();
        this.#look("three quarters");
      } else return;
      event.preventDefault();
    });
  }

  #turnByPointer() {
    /** @type {Map<number, {x: number, y: number}>} */
    const held = new Map();
    let moved = 0;
    const apart = () => {
      const [first, second] = [...held.values()];
      return Math.hypot(first.x - second.x, first.y - second.y);
    };
    this.canvas.addEventListener("pointerdown", (/** @type {PointerEvent} */ event) => {
      this.canvas.setPointerCapture(event.pointerId);
      held.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (held.size === 1) moved = 0;
    });
    this.canvas.addEventListener("pointermove", (/** @type {PointerEvent} */ event) => {
      const before = held.get(event.pointerId);
      const scene = this.scene;
      if (!before || !scene) return;
      const [across, down] = [event.clientX - before.x, event.clientY - before.y];
      moved += Math.abs(across) + Math.abs(down);
      const was = held.size === 2 ? apart() : 0;
      held.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (held.size === 2) scene.comeCloser(apart() / (was || 1));
      else this.#turnTo(scene.azimuth - across / 2, scene.elevation + down / 2);
    });
    for (const end of ["pointerup", "pointercancel"]) {
      this.canvas.addEventListener(end, (/** @type {PointerEvent} */ event) => {
        if (end === "pointerup" && held.size === 1 && moved < CLICK_PX) this.#point(event);
        held.delete(event.pointerId);
      });
    }
    this.canvas.addEventListener("wheel", (/** @type {WheelEvent} */ event) => {
      // Without Ctrl the wheel belongs to the page.
      if (!event.ctrlKey) return;
      event.preventDefault();
      this.scene?.comeCloser(Math.exp(-event.deltaY / 400));
    }, { passive: false });
  }

  /** Take the place pressed on as the next end of the distance. @param {PointerEvent} event */
  #point(event) {
    const place = this.scene?.pick(event.clientX, event.clientY);
    if (!place) return;
    this.pointed[this.next] = place;
    this.ends[this.next].value = "*";
    if (this.next === 0) this.ends[1].value = "";
    this.next = 1 - this.next;
    void this.#measure();
  }

  /** @param {number} index @returns {{end: End, place: any}|null} */
  #end(index) {
    const name = this.ends[index].value;
    const scene = /** @type {Scene} */ (this.scene);
    if (name === "*") {
      const place = this.pointed[index];
      return place && { end: { name: "", at_mm: [place.z, place.x, place.y] }, place };
    }
    const point = this.shown?.points.find((found) => found.name === name);
    return point ? { end: { name, at_mm: null }, place: scene.place(...point.at_mm) } : null;
  }

  async #measure() {
    const ends = [this.#end(0), this.#end(1)];
    this.scene?.mark(ends.flatMap((found) => (found ? [found.place] : [])));
    const [first, second] = ends;
    this.distance.replaceChildren();
    delete this.distance.dataset.middle;
    if (!first || !second) return;
    try {
      const found = await send("/api/round/distance", { first: first.end, second: second.end });
      this.distance.append(make("strong", found.words), ` ${found.worth}`);
      if (found.href) this.distance.append(" ", make("a", found.finding, { href: found.href }));
      this.distance.dataset.middle = String(found.middle_mm);
    } catch (fault) {
      this.distance.textContent = wordsOf(fault);
    }
  }

  #cut() {
    const how = this.cutHow.value;
    const place = this.scene?.cut(how, Number(this.cutAt.value)) ?? 0;
    const from = { across: "before the middle of the feet", lengthwise: "to the left of the middle", level: "above the ground" };
    this.cutAt.disabled = !how;
    const behind = { across: "behind the middle of the feet", lengthwise: "to the right of the middle", level: "below the ground" };
    const words = place < 0 ? behind : from;
    const far = Math.abs(place) < 0.5 ? "At 0 mm" : `${Math.abs(place).toFixed(0)} mm`;
    this.cutSaid.textContent = how ? `${far} ${words[/** @type {"across"} */ (how)]}` : "";
  }
}

customElements.define("round-view", RoundView);
