// @ts-check
// A sheet checked while it is typed in, saved, joined with what others saved, taken back.

import { read, send, wordsOf } from "./server.js";
import { counted } from "./sheet_bar.js";

/** @typedef {import("./sheet.js").StudySheet} StudySheet */

const CHECK_DELAY_MS = 250;

export class SheetSaving {
  /** @type {ReturnType<typeof setTimeout>|undefined} */
  timer = undefined;

  /** @param {StudySheet} sheet */
  constructor(sheet) {
    this.sheet = sheet;
  }

  /** Check soon what would be saved. @param {import("./sheet_store.js").Typing} [typing] */
  checkSoon(typing) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.check(typing), typing ? CHECK_DELAY_MS : 0);
  }

  /** @param {import("./sheet_store.js").Typing} [typing] */
  async check(typing) {
    try {
      if (!(await this.sheet.store.check(typing))) return;
      this.sheet.drawMarks();
      if (this.sheet.bar.savesAsItGoes && !this.sheet.editing.editor && this.#isSoundSoFar()) await this.save();
    } catch (fault) {
      this.sheet.bar.tell(wordsOf(fault), "problem");
    }
  }

  /** Whether something is unsaved and none of it has a problem. */
  #isSoundSoFar() {
    const { rows, problems } = this.sheet.store;
    if (rows.unsaved === 0 || this.sheet.store.saving || !this.sheet.clash.element.hidden) return false;
    return !problems.some(({ row }) => row === null || (rows.touched.has(row) && rows.differs(row)));
  }

  /** Save the table; what somebody else changed meanwhile is joined, and shown if it contradicts. */
  async save() {
    const { store } = this.sheet;
    if (!store.table || store.saving) return;
    this.#closeCell();
    clearTimeout(this.timer);
    let joined = false;
    try {
      for (;;) {
        const { header } = store.table;
        const saving = store.save(() => this.#closeCell());
        this.sheet.drawBar();
        const { clash, note } = await saving;
        if (!clash) {
          await this.#afterSaving(header, note, joined);
          return;
        }
        this.#showJoined(clash);
        if (clash.differences.length) {
          await this.check();
          return;
        }
        joined = true;
      }
    } catch (fault) {
      this.sheet.bar.tell(`${wordsOf(fault)} What you typed stays here, not saved yet.`, "problem");
    } finally {
      this.sheet.drawBar();
    }
  }

  #closeCell() {
    const { editor } = this.sheet.editing;
    editor?.close(editor.field.value, "stay");
  }

  /** @param {string[]} header @param {string} note @param {boolean} joined */
  async #afterSaving(header, note, joined) {
    const { store } = this.sheet;
    this.sheet.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
    this.sheet.clash.clear();
    this.sheet.order.follow(store.rows.rows, this.sheet.columns(), new Set(), 0);
    if (store.table?.header === header) this.sheet.drawMarks();
    else this.sheet.show();
    await store.check();
    this.sheet.drawMarks();
    this.#tellSaved(note, joined);
  }

  /** Say that it is saved, and whether problems keep the results from following.
   * @param {string} note @param {boolean} joined
   */
  #tellSaved(note, joined) {
    const here = this.sheet.store.problems.length;
    const saved = joined ? "Saved, joined with what was changed elsewhere meanwhile" : "Saved";
    if (note) {
      this.sheet.bar.tell(note, "doubt");
    } else if (this.sheet.store.elsewhere + here === 0) {
      this.sheet.bar.tell(`${saved}.`);
    } else {
      const words = here
        ? `${counted(here, "problem")} in this table`
        : `${counted(this.sheet.store.elsewhere, "problem")} in other tables`;
      this.sheet.bar.tell(`${saved}, but not recomputed: ${words}.`, "problem");
    }
  }

  /** @param {any} body */
  #showJoined(body) {
    const table = /** @type {import("./server.js").Table} */ (this.sheet.store.table);
    const { rows } = this.sheet.store.rows;
    this.sheet.order.arrange(rows, table.columns);
    this.sheet.show();
    if (body.differences.length) this.sheet.bar.tell(`${body.error} ${body.remedy}`, "doubt");
    const joined = [...rows];
    this.sheet.clash.show(body.differences, table, (choices) => {
      const cells = choices.flatMap(({ difference, value }) => {
        const row = joined[difference.index];
        const place = table.header.indexOf(difference.column ?? "");
        return row.cells[place] === value ? [] : [{ row, place, from: row.cells[place], to: value }];
      });
      this.sheet.editing.edit({ label: "choose between two values", cells });
    });
  }

  /** Keep a row that looks wrong, with the reason: a row of the decisions table says so.
   * @param {import("./server.js").Problem} problem @param {string} reason
   */
  async keep(problem, reason) {
    try {
      await send("/api/decisions", { table: this.sheet.name, row_id: problem.keep, decision: "keep", reason });
      this.sheet.bar.tell(`Kept ${problem.keep}, with your reason in the decisions table.`);
      this.sheet.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
      await this.check();
      this.sheet.grid.focusActive();
    } catch (fault) {
      this.sheet.bar.tell(wordsOf(fault), "problem");
    }
  }

  /** Nothing is left to take back in the page: the study's own history goes farther.
   * @param {"undo"|"redo"} way */
  async offerEarlier(way) {
    if (this.sheet.dirty) return;
    try {
      const history = await read("/api/history");
      const step = history[way];
      if (!step) {
        this.sheet.bar.tell(`There is nothing to ${way}.`);
        return;
      }
      const when = new Date(step.when).toLocaleString(document.documentElement.lang);
      const [words, offer] = way === "undo"
        ? [`The last step of the study: ${step.what} (${when}).`, "Take it back"]
        : [`Taken back last in the study: ${step.what} (${when}).`, "Do it again"];
      this.sheet.bar.offer(words, offer, () => void this.#goStep(way, step.number));
    } catch (fault) {
      this.sheet.bar.tell(wordsOf(fault), "problem");
    }
  }

  /** @param {"undo"|"redo"} way @param {number} number */
  async #goStep(way, number) {
    try {
      const { step } = await send(`/api/history/${way}`, { number });
      await this.sheet.load();
      this.sheet.grid.focusActive();
      this.sheet.bar.tell(step ? `Done: ${step.what}.` : "Nothing had to change.");
      this.sheet.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
    } catch (fault) {
      this.sheet.bar.tell(wordsOf(fault), "problem");
    }
  }
}
