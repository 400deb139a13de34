// @ts-check
// Tracing a section in a picture: measure its scale bar, look at the contour, keep it or not.

import { PictureMarks } from "./picture_marks.js";
import { PictureStage } from "./picture_stage.js";
import { read, send } from "./server.js";

/** @typedef {{files: string[], waiting: string[], bones: string[], species: string[]}} Offered */

const ENDS = ["one end of the scale bar", "its other end"];
const FRAME = `
<form class="contour-form contour-open">
  <label class="contour-which">Picture in files/ <select name="file" required></select></label>
  <button>Open</button>
</form>
<div class="contour-work" hidden>
  <div>
    <div class="contour-stage"></div>
    <p class="quiet" id="desk-keys">Set the two ends of the scale bar: press on them, or with the picture
    in focus move the cross with the arrows (Shift 10 px, Alt 0.2 px) and set an end with Enter; N and P
    choose the end, + and − enlarge, Ctrl+Z takes back. Drag to move an end.</p>
  </div>
  <form class="contour-choices">
    <div class="contour-lens"></div>
    <p><button type="button" name="larger">Enlarge</button> <button type="button" name="smaller">Shrink</button></p>
    <label>Length of the scale bar, mm <input name="bar_mm" type="number" min="0" step="any" required></label>
    <label>The same in pixels <input name="bar_pixels" type="number" min="0" step="any" required></label>
    <label>What counts as bone <select name="rule">
      <option value="half-maximum">half-maximum</option><option value="otsu">Otsu</option>
      <option value="fixed">fixed grey value</option></select>
      <small>Half-maximum: halfway from background to bone. Otsu: the two most compact classes of
      grey. Fixed: a grey value and brighter.</small></label>
    <label>Grey value <input name="level" type="number" step="any" disabled></label>
    <label class="contour-tick"><input name="dark_bone" type="checkbox"> bone is darker than its surroundings</label>
    <label>The bone's front points <select name="front">
      <option value="90">up</option><option value="0">to the right</option>
      <option value="270">down</option><option value="180">to the left</option>
      <option value="">elsewhere</option></select></label>
    <label>Degrees from the right, anticlockwise <input name="anterior_deg" type="number" step="any" value="90" disabled required></label>
    <button class="main-button">Show the contour</button>
  </form>
</div>
<p class="contour-state" role="status"></p>
<div class="contour-sheet" hidden>
  <p><img alt="The contour found, drawn over its picture with a scale bar."></p>
  <form class="contour-form contour-keep">
    <label>Section <input name="name" required maxlength="80" list="contour-waiting" autocomplete="off"></label>
    <fieldset><legend>If its row is new</legend>
      <label>Bone <input name="bone" maxlength="200" list="contour-bones" autocomplete="off"></label>
      <label>or living species <input name="species" maxlength="200" list="contour-species" autocomplete="off"></label>
      <label>Element <select name="element"><option value=""></option>
        <option>femur</option><option>tibiotarsus</option><option>tarsometatarsus</option></select></label>
      <label>Position, % from the proximal end <input name="position" type="number" min="1" max="99" step="any"></label>
      <label>Length of the bone, mm <input name="bone_length_mm" type="number" min="0" step="any"></label>
    </fieldset>
    <button class="main-button">Keep the contour</button>
  </form>
</div>
<datalist id="contour-waiting"></datalist><datalist id="contour-bones"></datalist><datalist id="contour-species"></datalist>`;

class ContourDesk extends HTMLElement {
  connectedCallback() {
    this.innerHTML = FRAME;
    this.file = "";
    /** @type {PictureStage|null} */
    this.stage = null;
    this.choices = /** @type {HTMLFormElement} */ (this.querySelector(".contour-choices"));
    this.keep = /** @type {HTMLFormElement} */ (this.querySelector(".contour-keep"));
    this.sheet = this.#part(".contour-sheet");
    this.state = this.#part(".contour-state");
    this.#field("rule").addEventListener("change", () => {
      const fixed = this.#field("rule").value === "fixed";
      this.#field("level").disabled = !fixed;
      this.#field("level").required = fixed;
    });
    this.#field("front").addEventListener("change", () => {
      const angle = this.#field("anterior_deg");
      angle.disabled = this.#field("front").value !== "";
      if (angle.disabled) angle.value = this.#field("front").value;
      else angle.focus();
    });
    this.#field("larger").addEventListener("click", () => this.stage?.zoomBy(1.5));
    this.#field("smaller").addEventListener("click", () => this.stage?.zoomBy(1 / 1.5));
    // A contour shown for other choices must not be kept by mistake.
    this.choices.addEventListener("input", () => { this.sheet.hidden = true; });
    this.#submits(/** @type {HTMLFormElement} */ (this.querySelector(".contour-open")), () => this.#open());
    this.#submits(this.choices, () => this.#look());
    this.#submits(this.keep, () => this.#accept());
    window.addEventListener("resize", () => this.stage?.draw());
    void this.#try(() => this.#fill());
  }

  /** @param {string} selector @returns {HTMLElement} */
  #part(selector) {
    return /** @type {HTMLElement} */ (this.querySelector(selector));
  }

  /** @param {string} name @returns {HTMLInputElement} */
  #field(name) {
    return /** @type {HTMLInputElement} */ (this.#part(`[name="${name}"]`));
  }

  /** @param {HTMLFormElement} form @param {() => Promise<void>} work */
  #submits(form, work) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      void this.#try(work);
    });
  }

  /** @param {() => Promise<void>} work */
  async #try(work) {
    try {
      await work();
    } catch (fault) {
      this.state.textContent = fault instanceof Error ? fault.message : String(fault);
    }
  }

  async #fill() {
    const offered = /** @type {Offered} */ (await read("/api/contour/pictures"));
    const select = /** @type {HTMLSelectElement} */ (/** @type {unknown} */ (this.#field("file")));
    const chosen = select.value;
    select.replaceChildren(...offered.files.map((file) => new Option(file, file)));
    if (chosen) select.value = chosen;
    for (const [id, names] of Object.entries({
      "contour-waiting": offered.waiting, "contour-bones": offered.bones, "contour-species": offered.species,
    })) this.#part(`#${id}`).replaceChildren(...names.map((name) => new Option(name, name)));
    if (!offered.files.length) this.state.textContent = "There are no pictures in the study's files yet.";
    this.dataset.ready = "";
  }

  async #open() {
    this.sheet.hidden = true;
    const file = this.#field("file").value;
    const picture = await send("/api/contour/picture", { file });
    this.file = file;
    const marks = new PictureMarks(ENDS, "", picture.width, picture.height);
    this.stage = new PictureStage(marks, picture.image, file);
    marks.addEventListener("change", () => this.#measure(marks));
    this.#part(".contour-stage").replaceChildren(this.stage.element);
    this.#part(".contour-lens").replaceChildren(this.stage.lens);
    this.#field("bar_pixels").value = "";
    this.#part(".contour-work").hidden = false;
    this.state.textContent = `Now: ${marks.current}.`;
    this.stage.board.focus();
    this.stage.draw();
  }

  /** @param {PictureMarks} marks */
  #measure(marks) {
    this.stage?.draw();
    const [one, other] = ENDS.map((name) => marks.points.get(name));
    this.sheet.hidden = true;
    if (!one || !other) {
      this.state.textContent = `Now: ${marks.current}.`;
      return;
    }
    const pixels = Math.hypot(one.x - other.x, one.y - other.y);
    this.#field("bar_pixels").value = pixels.toFixed(1);
    this.state.textContent = `The scale bar is ${pixels.toFixed(1)} pixels long.`;
  }

  #message() {
    const level = this.#field("level");
    return {
      file: this.file,
      bar_mm: Number(this.#field("bar_mm").value),
      bar_pixels: Number(this.#field("bar_pixels").value),
      rule: this.#field("rule").value,
      level: level.disabled ? null : Number(level.value),
      dark_bone: this.#field("dark_bone").checked,
      anterior_deg: Number(this.#field("anterior_deg").value),
    };
  }

  async #look() {
    this.state.textContent = "Looking…";
    this.sheet.hidden = true;
    const found = await send("/api/contour/look", this.#message());
    const image = /** @type {HTMLImageElement} */ (this.sheet.querySelector("img"));
    image.src = found.sheet;
    this.sheet.hidden = false;
    this.state.textContent = "Keep the contour only if it follows the bone all round.";
    this.#field("name").focus();
  }

  async #accept() {
    const row = Object.fromEntries(new FormData(this.keep));
    const kept = await send("/api/contour/accept", { ...this.#message(), ...row });
    this.sheet.hidden = true;
    this.keep.reset();
    this.state.textContent =
      `Kept as ${kept.file}, in ${kept.row_is_new ? "a new row" : "the row"} ${kept.section} of the table below.`;
    this.state.scrollIntoView({ block: "center" });
    this.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
    await this.#fill();
  }
}

customElements.define("contour-desk", ContourDesk);
