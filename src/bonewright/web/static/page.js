// @ts-check
// The page around the sheets: takes decisions, goes to cells, keeps what is not saved.

import { catchUp, followStates } from "./live.js";
import "./glossary.js";
import "./row_feeds.js";
import { send } from "./server.js";
import { StudySheet } from "./sheet.js";

/** @returns {StudySheet[]} */
function sheets() {
  return [...document.querySelectorAll("study-sheet")].filter((found) => found instanceof StudySheet);
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
    await catchUp();
  } catch (fault) {
    output.textContent = fault instanceof Error ? fault.message : String(fault);
  }
}

/** Drawing takes the server's time: figures are asked for once the tables can be worked in. */
async function showFigures() {
  await Promise.all(sheets().map((sheet) => sheet.ready));
  for (const image of document.querySelectorAll("img[data-src]")) {
    image.setAttribute("src", image.getAttribute("data-src") ?? "");
    image.removeAttribute("data-src");
  }
}

/** Go to the cell an address names: #table:row:column. */
async function goToAddress() {
  const [name, row, column] = decodeURIComponent(location.hash.slice(1)).split(":");
  const sheet = sheets().find((found) => found.name === name);
  if (!sheet) return openFinding(decodeURIComponent(location.hash.slice(1)));
  // What stands above it must have its height first.
  await Promise.all(sheets().map((other) => other.ready));
  if (row === "new") {
    history.replaceState(null, "", location.pathname);
    await sheet.begin(Object.fromEntries(new URLSearchParams(column)));
    return;
  }
  await sheet.goTo(row ? Number(row) : null, column ?? null);
  // Figures that arrive later push it away.
  await showFigures();
  await Promise.all([...document.images].map((image) => image.decode().catch(() => {})));
  document.activeElement?.closest("study-sheet td")?.scrollIntoView({ block: "center" });
}

/** Open what an address names, the drawers round it, and how it was got. @param {string} id */
function openFinding(id) {
  const found = id ? document.getElementById(id) : null;
  if (!found) return;
  for (let place = found.parentElement; place; place = place.parentElement) {
    if (place instanceof HTMLDetailsElement) place.open = true;
  }
  if (found instanceof HTMLDetailsElement) found.open = true;
  const how = document.getElementById(`how-${id}`);
  if (how instanceof HTMLDetailsElement) {
    how.open = true;
    how.querySelector("summary")?.focus({ preventScroll: true });
  }
  found.scrollIntoView({ block: "center" });
}

document.addEventListener("submit", (event) => void decide(event));
document.addEventListener("sheet-saved", () => void catchUp());
window.addEventListener("hashchange", () => void goToAddress());
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
void showFigures();
document.addEventListener("page-swapped", () => void showFigures());
void goToAddress();
followStates((state) => {
  for (const sheet of sheets()) void sheet.follow(state.versions[sheet.name], state.computing ? null : state.number);
});
