// @ts-check
// The marking desk: choose a picture, set its points by pointer or by keyboard, score it, save.

import { PictureMarks } from "./picture_marks.js";
import { PictureStage } from "./picture_stage.js";
import { read, send } from "./server.js";

/**
 * @typedef {{id: string, title: string, width: number, height: number, checksum: string,
 *   notes: string[], fault: string, scale_length: string, scale_unit: string,
 *   marked: string[]}} Picture
 * @typedef {{pictures: Picture[], points: {name: string, where: string}[], outline: string,
 *   scores: {kind: string, points: string}[]}} Desk
 */

const FRAME = `
<form class="desk-choice">
  <label>Who marks <input name="observer" required maxlength="200" autocomplete="off"></label>
  <label>Round <input name="round" type="number" min="1" max="20" value="1" required></label>
  <label class="desk-which">Picture <select name="picture"></select></label>
  <button>Open</button>
</form>
<p class="desk-state" role="status"></p>
<div class="desk-open" hidden>
  <div class="desk-work">
    <div class="desk-stage"></div>
    <p class="quiet" id="desk-keys">Pointer: press to set the point that is chosen, drag to move one.
    Keys, with the picture in focus: arrows move the cross (Shift 10 px, Alt 0.2 px), Enter sets the
    point, Delete takes it away, N and P choose the next and previous point, O the outline, + and −
    enlarge, Ctrl+Z takes back.</p>
    <ul class="desk-notes"></ul>
  </div>
  <div class="desk-side">
    <div class="desk-lens"></div>
    <p class="desk-buttons">
      <button type="button" name="undo">Undo</button> <button type="button" name="redo">Redo</button>
      <button type="button" name="larger">Enlarge</button> <button type="button" name="smaller">Shrink</button>
    </p>
    <p><button type="button" name="save" class="main-button">Save the marks</button></p>
    <div class="desk-list"><table class="desk-points"><caption>Marks, px from the left and from the top</caption>
      <thead><tr><th scope="col">Point</th><th scope="col">Left</th><th scope="col">Top</th></tr></thead>
      <tbody></tbody></table></div>
    <fieldset class="desk-scale"><legend>Scale, if the picture shows a length that is known</legend>
      <label>From 'scale start' to 'scale end' <input name="scale_length" inputmode="decimal" maxlength="40"></label>
      <label>Unit <input name="scale_unit" maxlength="40" size="5"></label></fieldset>
    <fieldset class="desk-scores"><legend>Scores from 1 to 5</legend>
      <div class="desk-score-list"></div>
      <button type="button" name="save-scores">Save the scores</button></fieldset>
  </div>
</div>`;

class PictureDesk extends HTMLElement {
  connectedCallback() {
    this.innerHTML = FRAME;
    /** @type {Desk|null} */
    this.desk = null;
    /** @type {PictureMarks|null} */
    this.marks = null;
    /** @type {PictureStage|null} */
    this.stage = null;
    /** @type {Picture|null} */
    this.picture = null;
    this.opened = { observer: "", round: 1 };
    this.#form().addEventListener("submit", (event) => {
      event.preventDefault();
      void this.#try(() => this.#open());
    });
    this.#on("undo", () => this.marks?.undo());
    this.#on("redo", () => this.marks?.redo());
    this.#on("larger", () => this.stage?.zoomBy(1.5));
    this.#on("smaller", () => this.stage?.zoomBy(1 / 1.5));
    this.#on("save", () => void this.#try(() => this.#save()));
    this.#on("save-scores", () => void this.#try(() => this.#saveScores()));
    this.addEventListener("keydown", (event) => {
      if ((event.ctrlKey || event.metaKey) && event.key === "s" && this.marks) {
        event.preventDefault();
        event.stopPropagation();
        void this.#try(() => this.#save());
      }
    });
    window.addEventListener("beforeunload", (event) => {
      if (this.marks?.dirty) event.preventDefault();
    });
    window.addEventListener("resize", () => this.stage?.draw());
    void this.#try(() => this.#list());
  }

  #form() {
    return /** @type {HTMLFormElement} */ (this.querySelector("form"));
  }

  /** @param {string} name @returns {HTMLInputElement} */
  #field(name) {
    return /** @type {HTMLInputElement} */ (this.querySelector(`[name="${name}"]`));
  }

  /** @param {string} name @param {() => void} act */
  #on(name, act) {
    this.#field(name).addEventListener("click", act);
  }

  /** @param {string} selector @returns {HTMLElement} */
  #part(selector) {
    return /** @type {HTMLElement} */ (this.querySelector(selector));
  }

  /** @param {string} words */
  #say(words) {
    this.#part(".desk-state").textContent = words;
  }

  /** @param {() => Promise<void>} act */
  async #try(act) {
    try {
      await act();
    } catch (fault) {
      this.#say(fault instanceof Error ? fault.message : String(fault));
    }
  }

  async #list() {
    this.desk = /** @type {Desk} */ (await read("/api/pictures"));
    const select = /** @type {HTMLSelectElement} */ (/** @type {unknown} */ (this.#field("picture")));
    const chosen = select.value;
    select.replaceChildren(
      ...this.desk.pictures.map((picture) => {
        const known = picture.fault ? "no file to mark" : picture.marked.length ? `marked by ${picture.marked.join("; ")}` : "not marked";
        const option = new Option(`${picture.id}: ${picture.title} (${known})`, picture.id);
        option.disabled = Boolean(picture.fault);
        return option;
      }),
    );
    const first = this.desk.pictures.find((picture) => !picture.fault);
    select.value = chosen || (first?.id ?? "");
    this.dataset.ready = "";
    const unreadable = this.desk.pictures.filter((picture) => picture.checksum === "" && picture.fault);
    if (!first) {
      this.#say(unreadable.length ? unreadable[0].fault : "There are no pictures yet: add rows to the table below.");
    }
  }

  async #open() {
    if (!this.desk) return;
    if (this.marks?.dirty && !window.confirm("Leave the marks that are not saved?")) return;
    const data = new FormData(this.#form());
    const observer = String(data.get("observer")).trim();
    const round = Number(data.get("round"));
    const picture = this.desk.pictures.find((one) => one.id === data.get("picture"));
    if (!picture) return this.#say("Choose a picture.");
    if (picture.fault) return this.#say(picture.fault);
    const id = encodeURIComponent(picture.id);
    const answer = await read(`/api/marks/${id}?observer=${encodeURIComponent(observer)}&round=${round}`);
    const marks = new PictureMarks(this.desk.points.map((point) => point.name), this.desk.outline, picture.width, picture.height);
    marks.load(answer.points, answer.version);
    this.picture = picture;
    this.opened = { observer, round };
    this.marks = marks;
    this.stage = new PictureStage(marks, `/picture/${id}.png?of=${picture.checksum.slice(0, 16)}`, picture.title);
    this.#part(".desk-stage").replaceChildren(this.stage.element);
    this.#part(".desk-lens").replaceChildren(this.stage.lens);
    this.#part(".desk-notes").replaceChildren(...picture.notes.map((note) => Object.assign(document.createElement("li"), { textContent: note })));
    this.#field("scale_length").value = picture.scale_length;
    this.#field("scale_unit").value = picture.scale_unit;
    for (const name of ["scale_length", "scale_unit"]) this.#field(name).oninput = () => { marks.dirty = true; };
    this.#scores(answer.scores);
    marks.addEventListener("change", () => this.#show());
    this.#part(".desk-open").hidden = false;
    this.#show();
    this.stage.board.focus();
    this.stage.draw();
  }

  #show() {
    const { marks, stage } = this;
    if (!marks || !stage || !this.desk) return;
    stage.draw();
    const where = new Map(this.desk.points.map((point) => [point.name, point.where]));
    const rows = marks.names.map((name) => this.#row(name, where.get(name) ?? "", null, marks.points.get(name)));
    rows.push(this.#row(marks.outlineName, "points along the edge of the animal, in order", null, undefined));
    marks.outline.forEach((place, index) => rows.push(this.#row(`${index + 1}`, "", index + 1, place)));
    this.#part("tbody").replaceChildren(...rows);
    this.#field("undo").disabled = marks.past.length === 0;
    this.#field("redo").disabled = marks.future.length === 0;
    const now = marks.current === marks.outlineName
      ? `Next: outline, point ${marks.outline.length + 1}`
      : `Now: ${marks.current}, ${where.get(marks.current)}`;
    this.#say(`${now}. ${marks.points.size} of ${marks.names.length} points set.${marks.dirty ? " Not saved." : ""}`);
  }

  /** @param {string} name @param {string} where @param {number|null} order @param {import("./picture_marks.js").Place|undefined} place */
  #row(name, where, order, place) {
    const marks = /** @type {PictureMarks} */ (this.marks);
    const row = document.createElement("tr");
    const head = document.createElement("th");
    head.scope = "row";
    if (order === null) {
      const choose = document.createElement("button");
      choose.type = "button";
      choose.textContent = name;
      choose.title = where;
      choose.setAttribute("aria-pressed", String(marks.current === name));
      choose.addEventListener("click", () => {
        marks.choose(name);
        this.stage?.board.focus();
      });
      head.append(choose);
    } else head.textContent = `outline ${name}`;
    row.append(head);
    for (const axis of /** @type {const} */ (["x", "y"])) {
      const cell = document.createElement("td");
      if (order !== null || name !== marks.outlineName) {
        const field = document.createElement("input");
        field.type = "number";
        field.step = "0.1";
        field.min = "0";
        field.max = String(axis === "x" ? marks.width : marks.height);
        field.value = place ? String(place[axis]) : "";
        field.setAttribute("aria-label", `${order === null ? name : `outline ${name}`}, px from the ${axis === "x" ? "left" : "top"}`);
        field.addEventListener("change", () => this.#typed(row, name, order));
        cell.append(field);
      }
      row.append(cell);
    }
    return row;
  }

  /** @param {HTMLTableRowElement} row @param {string} name @param {number|null} order */
  #typed(row, name, order) {
    const [x, y] = [...row.querySelectorAll("input")].map((field) => field.value);
    if (x === "" || y === "") return; // half a place is none
    const focused = [...row.querySelectorAll("input")].indexOf(/** @type {HTMLInputElement} */ (document.activeElement));
    const index = [...this.#part("tbody").children].indexOf(row);
    this.marks?.move(order === null ? name : this.marks.outlineName, order, { x: Number(x), y: Number(y) });
    if (focused >= 0) this.#part("tbody").children[index]?.querySelectorAll("input")[focused]?.focus();
  }

  /** @param {Record<string, string>} given */
  #scores(given) {
    this.#part(".desk-score-list").replaceChildren(
      ...(this.desk?.scores ?? []).map(({ kind, points }) => {
        const label = document.createElement("label");
        const select = document.createElement("select");
        select.name = kind;
        select.append(new Option("not scored", ""));
        for (let score = 1; score <= 5; score += 0.5) select.append(new Option(String(score), String(score)));
        select.value = given[kind] === undefined ? "" : String(Number(given[kind]));
        const words = document.createElement("small");
        words.textContent = points;
        label.append(`${kind} `, select, words);
        return label;
      }),
    );
  }

  async #save() {
    const { marks, picture } = this;
    if (!marks || !picture) return;
    const scale = { scale_length: this.#field("scale_length").value.trim(), scale_unit: this.#field("scale_unit").value.trim() };
    const answer = await send(`/api/marks/${encodeURIComponent(picture.id)}`, {
      ...this.opened, ...scale, checksum: picture.checksum, version: marks.version, points: marks.all(),
    });
    marks.version = answer.version;
    marks.dirty = false;
    Object.assign(picture, scale);
    await this.#list();
    this.#say("Marks saved in the table of marks.");
    this.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
  }

  async #saveScores() {
    if (!this.picture) return;
    const selects = /** @type {NodeListOf<HTMLSelectElement>} */ (this.querySelectorAll(".desk-score-list select"));
    await send(`/api/scores/${encodeURIComponent(this.picture.id)}`, {
      scorer: this.opened.observer,
      scores: Object.fromEntries([...selects].map((select) => [select.name, select.value])),
    });
    this.#say("Scores saved in the table of scores.");
    this.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
  }
}

customElements.define("picture-desk", PictureDesk);
