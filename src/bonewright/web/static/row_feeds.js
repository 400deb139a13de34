// @ts-check
// Which results the row at hand feeds: a line under each table, opened when it is wanted.

import { read } from "./server.js";

/** @typedef {{key: string, title: string, words: string, href: string}} Fed */

/** @param {Element} sheet */
function placeUnder(sheet) {
  const known = sheet.parentElement?.querySelector(":scope > details.row-feeds");
  if (known instanceof HTMLDetailsElement) return known;
  const place = document.createElement("details");
  place.className = "row-feeds";
  place.append(document.createElement("summary"), document.createElement("div"));
  place.addEventListener("toggle", () => void show(place));
  sheet.after(place);
  return place;
}

/** @param {HTMLDetailsElement} place */
async function show(place) {
  const { table, row } = place.dataset;
  const body = /** @type {HTMLElement} */ (place.lastElementChild);
  if (!place.open || !table || !row || body.dataset.shows === row) return;
  body.dataset.shows = row;
  try {
    const feeds = await read(`/api/tables/${table}/feeds?row_id=${encodeURIComponent(row)}`);
    if (place.dataset.row !== row) return;
    const parts = [];
    if (feeds.n_direct === 0) parts.push(paragraph("No result of the last run names this row."));
    else parts.push(paragraph(count(feeds.n_direct, "result names this row", "results name this row")), list(feeds.direct));
    if (feeds.n_reached) {
      parts.push(paragraph(`Through them it reaches ${count(feeds.n_reached, "more", "more")}, of: ${feeds.steps.join(", ")}.`), list(feeds.reached));
    }
    body.replaceChildren(...parts);
  } catch (fault) {
    body.textContent = fault instanceof Error ? fault.message : String(fault);
  }
}

/** @param {number} n @param {string} one @param {string} many */
function count(n, one, many) {
  return `${n} ${n === 1 ? one : many}`;
}

/** @param {string} words */
function paragraph(words) {
  const made = document.createElement("p");
  made.textContent = words;
  return made;
}

/** @param {Fed[]} entries */
function list(entries) {
  const made = document.createElement("ul");
  for (const entry of entries) {
    const item = document.createElement("li");
    const link = document.createElement("a");
    link.href = entry.href;
    link.textContent = entry.title;
    item.append(link, `: ${entry.words}`);
    made.append(item);
  }
  return made;
}

document.addEventListener("focusin", (event) => {
  const cell = event.target instanceof Element ? event.target.closest("study-sheet td") : null;
  const sheet = cell?.closest("study-sheet");
  const key = cell?.parentElement?.querySelector("td");
  const row = key?.querySelector("input, select, textarea") ? null : key?.textContent?.trim();
  if (!sheet || !row) return;
  const place = placeUnder(sheet);
  if (place.dataset.row === row) return;
  place.dataset.table = sheet.getAttribute("name") ?? "";
  place.dataset.row = row;
  /** @type {HTMLElement} */ (place.firstElementChild).textContent = `Which results row ${row} feeds`;
  void show(place);
});
document.addEventListener("page-swapped", () => {
  for (const place of document.querySelectorAll("details.row-feeds")) {
    delete /** @type {HTMLElement} */ (place.lastElementChild).dataset.shows;
    void show(/** @type {HTMLDetailsElement} */ (place));
  }
});
