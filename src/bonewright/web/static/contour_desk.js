// @ts-check
// Tracing a section in a picture: choose it, look at the contour, keep it or not.

import { read, send } from "./server.js";

const FRAME = `
<form class="contour-form">
  <label class="contour-which">Picture in files/ <select name="file" required></select></label>
  <label>Scale bar, mm <input name="bar_mm" type="number" min="0" step="any" required></label>
  <label>Its length, pixels <input name="bar_pixels" type="number" min="0" step="any" required></label>
  <label>Threshold <select name="rule">
    <option value="half-maximum">half-maximum</option>
    <option value="otsu">Otsu</option>
    <option value="fixed">fixed grey value</option></select></label>
  <label>Grey value <input name="level" type="number" step="any" disabled></label>
  <label>Front of the bone, degrees from the right <input name="anterior_deg" type="number" step="any" value="90" required></label>
  <label class="contour-tick"><input name="dark_bone" type="checkbox"> bone is darker than its surroundings</label>
  <button>Show the contour</button>
</form>
<p class="contour-state" role="status"></p>
<div class="contour-sheet" hidden>
  <p><img alt="The contour found, drawn over its picture with a scale bar."></p>
  <form class="contour-form contour-keep">
    <label>Name of the outline <input name="name" required maxlength="80" placeholder="sec-21"></label>
    <button class="main-button">Keep the contour</button>
  </form>
</div>`;

class ContourDesk extends HTMLElement {
  connectedCallback() {
    this.innerHTML = FRAME;
    this.choice = /** @type {HTMLFormElement} */ (this.querySelector("form"));
    this.keep = /** @type {HTMLFormElement} */ (this.querySelector(".contour-keep"));
    this.sheet = /** @type {HTMLElement} */ (this.querySelector(".contour-sheet"));
    this.state = /** @type {HTMLElement} */ (this.querySelector(".contour-state"));
    const rule = /** @type {HTMLSelectElement} */ (this.choice.elements.namedItem("rule"));
    const level = /** @type {HTMLInputElement} */ (this.choice.elements.namedItem("level"));
    rule.addEventListener("change", () => {
      level.disabled = rule.value !== "fixed";
      level.required = rule.value === "fixed";
    });
    // A contour shown for other choices must not be kept by mistake.
    this.choice.addEventListener("input", () => { this.sheet.hidden = true; });
    this.choice.addEventListener("submit", (event) => {
      event.preventDefault();
      this.try(() => this.look());
    });
    this.keep.addEventListener("submit", (event) => {
      event.preventDefault();
      this.try(() => this.accept());
    });
    this.try(() => this.fill());
  }

  /** @param {() => Promise<void>} work */
  async try(work) {
    try {
      await work();
    } catch (fault) {
      this.state.textContent = fault instanceof Error ? fault.message : String(fault);
    }
  }

  async fill() {
    const { files } = await read("/api/contour/pictures");
    const select = /** @type {HTMLSelectElement} */ (this.choice.elements.namedItem("file"));
    for (const file of files) select.add(new Option(file, file));
    if (!files.length) this.state.textContent = "There are no pictures in the study's files yet.";
  }

  message() {
    const data = new FormData(this.choice);
    return {
      file: String(data.get("file")),
      bar_mm: Number(data.get("bar_mm")),
      bar_pixels: Number(data.get("bar_pixels")),
      rule: String(data.get("rule")),
      level: data.get("level") ? Number(data.get("level")) : null,
      dark_bone: data.get("dark_bone") !== null,
      anterior_deg: Number(data.get("anterior_deg")),
    };
  }

  async look() {
    this.state.textContent = "Looking…";
    this.sheet.hidden = true;
    const found = await send("/api/contour/look", this.message());
    const image = /** @type {HTMLImageElement} */ (this.sheet.querySelector("img"));
    image.src = found.sheet;
    this.sheet.hidden = false;
    this.state.textContent = "Keep the contour only if it follows the bone all round.";
  }

  async accept() {
    const name = String(new FormData(this.keep).get("name"));
    const kept = await send("/api/contour/accept", { ...this.message(), name });
    this.state.textContent =
      `Kept. In the section's row write ${kept.file} as outline file, ${kept.accuracy_mm} as ` +
      "accuracy and mm as unit.";
  }
}

customElements.define("contour-desk", ContourDesk);
