// @ts-check
// The page around the sheets: follows the results, swaps in what changed, takes decisions.

import { read, send } from "./server.js";
import { StudySheet } from "./sheet.js";

/** @typedef {import("./server.js").State} State */

const POLL_MS = 300;
let polling = false;

/** @returns {StudySheet[]} */
function sheets() {
  return [...document.querySelectorAll("study-sheet")].filter((found) => found instanceof StudySheet);
}

/** Follow the server until it has nothing more to compute. */
async function follow() {
  if (polling) return;
  polling = true;
  try {
    for (;;) {
      const state = /** @type {State} */ (await read("/api/state"));
      if (String(state.number) !== document.body.dataset.number) {
        document.body.dataset.number = String(state.number);
        await refresh();
        await Promise.all(sheets().map((sheet) => sheet.follow(state.versions[sheet.name])));
      }
      document.body.dataset.computing = state.computing ? "yes" : "no";
      if (!state.computing) break;
      await new Promise((resolve) => setTimeout(resolve, POLL_MS));
    }
  } catch (fault) {
    const place = document.getElementById("standing");
    if (place) place.textContent = fault instanceof Error ? fault.message : String(fault);
  } finally {
    polling = false;
  }
}

/** Fetch this page again and swap in its live parts; what was opened stays open. */
async function refresh() {
  const response = await fetch(location.pathname, { headers: { accept: "text/html" } });
  if (!response.ok) return;
  const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
  const open = new Map(
    [...document.querySelectorAll("details[id]")].map((found) => [
      found.id,
      /** @type {HTMLDetailsElement} */ (found).open,
    ]),
  );
  const reasons = new Map(
    [...document.querySelectorAll("form.decide")].map((form) => [
      decisionName(form),
      /** @type {HTMLInputElement} */ (form.querySelector("input")).value,
    ]),
  );
  for (const part of document.querySelectorAll("[data-live][id]")) {
    const other = fresh.getElementById(part.id);
    if (!other || part.contains(document.activeElement) && part.id === "steps") continue;
    for (const details of other.querySelectorAll("details")) {
      // What was not there before comes as it is meant to: open or closed.
      details.open = open.get(details.id) ?? details.open;
    }
    for (const form of other.querySelectorAll("form.decide")) {
      const field = /** @type {HTMLInputElement} */ (form.querySelector("input"));
      field.value = reasons.get(decisionName(form)) ?? "";
    }
    part.replaceChildren(...other.childNodes);
  }
}

/** @param {Element} form */
function decisionName(form) {
  return `${form.getAttribute("data-table")}/${form.getAttribute("data-row")}`;
}

/** @param {SubmitEvent} event */
async function decide(event) {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.classList.contains("decide")) return;
  event.preventDefault();
  const output = /** @type {HTMLOutputElement} */ (form.querySelector("output"));
  const pressed = /** @type {HTMLButtonElement|null} */ (event.submitter);
  try {
    await send("/api/decisions", {
      table: form.dataset.table,
      row_id: form.dataset.row,
      decision: pressed?.value,
      reason: new FormData(form).get("reason"),
    });
    output.textContent = "Saved in the decisions table.";
    await follow();
  } catch (fault) {
    output.textContent = fault instanceof Error ? fault.message : String(fault);
  }
}

/** Go to the cell an address names: #table:row:column. */
async function goToAddress() {
  const [name, row, column] = decodeURIComponent(location.hash.slice(1)).split(":");
  const sheet = sheets().find((found) => found.name === name);
  if (!sheet) return;
  // What stands above it must have its height first.
  await Promise.all(sheets().map((other) => other.ready));
  await sheet.goTo(row ? Number(row) : null, column ?? null);
  // Figures that arrive later push it away.
  await Promise.all([...document.images].map((image) => image.decode().catch(() => {})));
  document.activeElement?.closest("study-sheet td")?.scrollIntoView({ block: "center" });
}

document.addEventListener("submit", (event) => void decide(event));
document.addEventListener("sheet-saved", () => void follow());
window.addEventListener("hashchange", () => void goToAddress());
window.addEventListener("focus", () => void follow());
window.addEventListener("beforeunload", (event) => {
  if (sheets().some((sheet) => sheet.dirty)) event.preventDefault();
});
document.addEventListener("keydown", (event) => {
  // Ctrl+S outside a sheet saves every changed one, never the page's HTML.
  if ((event.ctrlKey || event.metaKey) && event.key === "s" && !event.defaultPrevented) {
    event.preventDefault();
    for (const sheet of sheets()) if (sheet.dirty) void sheet.save();
  }
});
document.querySelector(".steps [aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
void goToAddress();
void follow();
