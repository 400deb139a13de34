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

  /** Save the table; if somebody else changed it, show both. */
  async save() {
    const { store } = this.sheet;
    if (!store.table || store.saving) return;
    this.sheet.editing.editor?.close(this.sheet.editing.editor.field.value, "stay");
    clearTimeout(this.timer);
    try {
      const { header } = store.table;
      const saving = store.save();
      this.sheet.drawBar();
      const { clash, note } = await saving;
      if (clash) {
        await this.#showClash(clash);
        return;
      }
      this.sheet.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
      this.sheet.clash.clear();
      this.sheet.order.follow(store.rows.rows, this.sheet.columns(), new Set(), 0);
      if (store.table.header === header) this.sheet.drawMarks();
      else this.sheet.show();
      await store.check();
      this.sheet.drawMarks();
      this.#tellSaved(note);
    } catch (fault) {
      this.sheet.bar.tell(`${wordsOf(fault)} What you typed stays here, not saved yet.`, "problem");
    } finally {
      this.sheet.drawBar();
    }
  }

  /** Say that it is saved, and whether problems keep the results from following.
   * @param {string} note
   */
  #tellSaved(note) {
    const here = this.sheet.store.problems.length;
    if (note) {
      this.sheet.bar.tell(note, "doubt");
    } else if (this.sheet.store.elsewhere + here === 0) {
      this.sheet.bar.tell("Saved.");
    } else {
      const words = here
        ? `${counted(here, "problem")} in this table`
        : `${counted(this.sheet.store.elsewhere, "problem")} in other tables`;
      this.sheet.bar.tell(`Saved, but not recomputed: ${words}.`, "problem");
    }
  }

  /** @param {any} body */
  async #showClash(body) {
    await this.sheet.store.takeJoined(body);
    const table = /** @type {import("./server.js").Table} */ (this.sheet.store.table);
    const { rows } = this.sheet.store.rows;
    this.sheet.order.arrange(rows, table.columns);
    this.sheet.show();
    this.sheet.bar.tell(`${body.error} ${body.remedy}`, "doubt");
    const joined = [...rows];
    this.sheet.clash.show(body.differences, table, (choices) => {
      const cells = choices.flatMap(({ difference, value }) => {
        const row = joined[difference.index];
        const place = table.header.indexOf(difference.column ?? "");
        return row.cells[place] === value ? [] : [{ row, place, from: row.cells[place], to: value }];
      });
      this.sheet.editing.edit({ label: "choose between two values", cells });
    });
    await this.check();
    if (body.differences.length === 0 && this.sheet.bar.savesAsItGoes) await this.save();
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

  /** Nothing is left to undo in the page: the study's own history goes farther back. */
  async offerEarlier() {
    if (this.sheet.dirty) return;
    try {
      const { undo } = await read("/api/history");
      if (!undo) {
        this.sheet.bar.tell("There is nothing to undo.");
        return;
      }
      const when = new Date(undo.when).toLocaleString(document.documentElement.lang);
      this.sheet.bar.offer(`The last step of the study: ${undo.what} (${when}).`, "Take it back", () => void this.#undoStep(undo.number));
    } catch (fault) {
      this.sheet.bar.tell(wordsOf(fault), "problem");
    }
  }

  /** @param {number} number */
  async #undoStep(number) {
    try {
      const { step } = await send("/api/history/undo", { number });
      await this.sheet.load();
      this.sheet.bar.tell(step ? `Done: ${step.what}.` : "Nothing had to change.");
      this.sheet.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
    } catch (fault) {
      this.sheet.bar.tell(wordsOf(fault), "problem");
    }
  }
}
