// @ts-check
// What is to be said of the active cell, below the grid: what belongs there, what is wrong,
// and the mends that one click applies.

import { doubtWords, problemWords } from "./cell_marks.js";

/** @typedef {import("./server.js").Column} Column */
/** @typedef {import("./server.js").Problem} Problem */
/** @typedef {import("./server.js").Row} Row */
/** @typedef {import("./cell_marks.js").Mark} Mark */
/**
 * @typedef {{column: Column, text: string, onDisk: string|null, ofCell: Mark|undefined,
 *   ofRow: Mark|undefined, locked: boolean, cut: boolean,
 *   alike: (problem: Problem) => number,
 *   mend: (problem: Problem, words: string, all: boolean) => void,
 *   keep: (problem: Problem, reason: string) => Promise<void>,
 *   decide: (row: number) => (() => void)|null}} Said
 */

export class CellNote {
  /** @param {string} id */
  constructor(id) {
    this.element = document.createElement("div");
    this.element.className = "cell-note";
    this.element.id = id;
    this.element.setAttribute("role", "status");
    this.drawn = "";
  }

  /** @param {string} words */
  say(words) {
    this.drawn = "";
    this.element.replaceChildren(said(words, ""));
  }

  /** @param {Said} given */
  show(given) {
    const { column, text, onDisk, ofCell, ofRow } = given;
    // A note that says the same is left alone, so that nobody hears it twice.
    const now = JSON.stringify([column.name, text, onDisk, ofCell, ofRow, given.locked, given.cut]);
    if (now === this.drawn && this.element.contains(document.activeElement)) return;
    this.drawn = now;
    const example = column.example ? ` For example ${column.example}.` : "";
    const parts = [said(`${column.title}: ${column.description}${example}`, "")];
    if (given.cut || text.includes("\n")) parts.unshift(said(text, "note-text"));
    if (onDisk !== null && onDisk !== text) {
      parts.push(said(`On disk: ${onDisk === "" ? "empty" : onDisk}.`, "note-before"));
    }
    for (const problem of [...(ofCell?.problems ?? []), ...(ofRow?.problems ?? [])]) {
      const line = said(problemWords(problem), "note-problem");
      if (!given.locked) line.append(...mends(problem, given));
      if (problem.keep && text === onDisk) line.append(keeping(problem, given));
      parts.push(line);
    }
    for (const doubt of [...(ofCell?.doubts ?? []), ...(ofRow?.doubts ?? [])]) {
      const line = said(doubtWords(doubt), "note-doubt");
      const decide = given.decide(doubt.row);
      if (decide) line.append(" ", button("Decide on it", decide));
      parts.push(line);
    }
    this.element.replaceChildren(...parts);
  }
}

/** @param {Problem} problem @param {Said} given */
function mends(problem, given) {
  /** @type {(Node|string)[]} */
  const made = [];
  const alike = given.alike(problem);
  for (const words of problem.instead) {
    const act = words === "" ? "Empty the cell" : `Write ${words}`;
    made.push(" ", button(act, () => given.mend(problem, words, false)));
    if (alike > 1) {
      const all = button(`${act} in all ${alike} cells alike`, () => given.mend(problem, words, true));
      made.push(" ", all);
    }
  }
  return made;
}

/** A reason, and the row may stay as it is. @param {Problem} problem @param {Said} given */
function keeping(problem, given) {
  const form = document.createElement("form");
  form.className = "keep-row";
  const label = document.createElement("label");
  const field = document.createElement("input");
  field.required = true;
  label.append("It is right, because ", field);
  const go = document.createElement("button");
  go.textContent = "Keep it";
  form.append(label, go);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    event.stopPropagation();
    if (field.value.trim()) void given.keep(problem, field.value);
  });
  return form;
}

/** @param {string} words @param {string} kind */
function said(words, kind) {
  const made = document.createElement("p");
  made.className = kind;
  made.textContent = words;
  return made;
}

/** @param {string} words @param {() => void} act */
function button(words, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", act);
  return made;
}

