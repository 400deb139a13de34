// @ts-check
// The start page: opens the demo, a new study or a folder, and lists folders to choose from.

import { read, send } from "./server.js";

const said = /** @type {HTMLElement} */ (document.getElementById("start-said"));

/** @param {SubmitEvent} event */
async function start(event) {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.matches(".start-form")) return;
  event.preventDefault();
  said.textContent = "";
  document.body.setAttribute("aria-busy", "true");
  try {
    const answer = await send("/api/start", {
      wanted: form.dataset.wanted,
      ...Object.fromEntries(new FormData(form)),
    });
    location.assign(answer.go_to);
  } catch (fault) {
    said.textContent = fault instanceof Error ? fault.message : String(fault);
  } finally {
    document.body.removeAttribute("aria-busy");
  }
}

/** List the folders in a folder. @param {string} at */
async function browse(at) {
  const list = /** @type {HTMLElement} */ (document.getElementById("browse-list"));
  try {
    const found = await read(`/api/folders?at=${encodeURIComponent(at)}`);
    /** @type {HTMLElement} */ (document.getElementById("browse-at")).textContent = found.path;
    const entries = found.folders.map((/** @type {any} */ folder) => entry(folder.name, folder.path, folder.is_study));
    if (found.above) entries.unshift(entry("Up", found.above, false));
    list.replaceChildren(...entries);
    list.querySelector("button")?.focus();
  } catch (fault) {
    list.textContent = fault instanceof Error ? fault.message : String(fault);
  }
}

/** @param {string} name @param {string} path @param {boolean} isStudy */
function entry(name, path, isStudy) {
  const item = document.createElement("li");
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = isStudy ? `Choose the study ${name}` : name;
  button.classList.toggle("main-button", isStudy);
  button.addEventListener("click", () => {
    if (!isStudy) return void browse(path);
    const field = /** @type {HTMLInputElement} */ (document.getElementById("open-folder"));
    field.value = path;
    field.focus();
  });
  item.append(button);
  return item;
}

document.addEventListener("submit", (event) => void start(event));
const drawer = /** @type {HTMLDetailsElement} */ (document.getElementById("browse"));
drawer.addEventListener("toggle", () => {
  if (drawer.open && !document.getElementById("browse-at")?.textContent) void browse(drawer.dataset.home ?? "");
});
