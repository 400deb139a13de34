// @ts-check
// Follows the results as they come: a stream of states from the server, and the live parts of
// this page swapped for new ones when what they show changed. Nothing that did not change is
// touched, and a figure stays until the new one can be drawn, so that nothing flickers.

import { read, send } from "./server.js";

/** @typedef {import("./server.js").State} State */

const POLL_MS = 400;
const SHOW_WORK_AFTER_MS = 250;
const STEPS = 8;
const QUIET_AFTER_FAULTS = 2;

/** @type {(state: State) => void} */
let told = () => {};
/** @type {EventSource|null} */
let stream = null;
let faults = 0;
let wanted = "";
/** @type {Promise<void>|null} */
let refreshing = null;
/** The newest state's number, and how many states were taken in. */
let newest = 0;
let taken = 0;
/** @type {number|undefined} */
let showWork;
/** @type {number|undefined} */
let begun;
/** What the server last sent of each live part, before this page touched it. */
const served = new Map();

/** Follow the server's states for as long as the page is looked at.
 * @param {(state: State) => void} each called with every state */
export function followStates(each) {
  told = each;
  for (const part of document.querySelectorAll("[data-live][id]")) served.set(part.id, part.innerHTML);
  wanted = document.body.dataset.face ?? "";
  document.addEventListener("visibilitychange", () => (document.hidden ? leave() : listen()));
  window.addEventListener("pagehide", leave);
  window.addEventListener("pageshow", listen);
  document.addEventListener("click", (event) => {
    const pressed = event.target instanceof Element ? event.target.closest("button") : null;
    if (pressed?.id === "stop-computing") void work("stop");
    if (pressed?.id === "resume-computing") void work("compute");
  });
  listen();
}

/** Look at the state at once, and again until nothing is being computed. */
export async function catchUp() {
  for (;;) {
    const state = /** @type {State} */ (await read("/api/state"));
    await take(state);
    if (stream?.readyState === EventSource.OPEN || !state.computing) return;
    await new Promise((resolve) => setTimeout(resolve, POLL_MS));
  }
}

function listen() {
  if (stream || document.hidden) return;
  stream = new EventSource("/api/events");
  stream.addEventListener("message", (message) => {
    faults = 0;
    void take(JSON.parse(message.data));
  });
  stream.addEventListener("error", () => {
    faults += 1;
    // The browser tries again by itself; a server that is gone is said so.
    if (faults >= QUIET_AFTER_FAULTS) {
      say("The page's server does not answer. Start it again; what you typed stays here.");
    }
  });
}

function leave() {
  stream?.close();
  stream = null;
}

/** @param {string} words */
function say(words) {
  const place = document.getElementById("standing");
  if (place) place.textContent = words;
  served.delete("standing");
}

/** @param {"stop"|"compute"} what */
async function work(what) {
  try {
    await take(await send("/api/work", { wanted: what }));
  } catch (fault) {
    say(fault instanceof Error ? fault.message : String(fault));
  }
}

/** Take in a state. @param {State} state */
async function take(state) {
  if (state.study !== document.body.dataset.study) {
    say("Another study was opened meanwhile. Reload to see it.");
    return;
  }
  // An answer may be overtaken by a newer one of the stream.
  if (state.number < newest) return;
  newest = state.number;
  taken += 1;
  const turn = taken;
  showProgress(state);
  told(state);
  const face = state.views[document.body.dataset.view ?? ""] ?? "";
  if (face !== wanted || !served.has("standing")) {
    wanted = face;
    clearTimeout(begun);
    // An edit that is computed at once shows its results, never first that they are old.
    if (state.computing && state.arrived.length === 0) begun = window.setTimeout(() => void refresh(), SHOW_WORK_AFTER_MS);
    else await refresh();
  }
  // Another state came while the page was fetched: what holds now is for that one to say.
  if (turn !== taken) return;
  document.body.dataset.computing = state.computing ? "yes" : "no";
  document.dispatchEvent(new CustomEvent("state", { detail: state }));
}

/** Say which step is at work and how far it is; only of work that takes a while.
 * @param {State} state */
function showProgress(state) {
  const place = document.getElementById("progress");
  if (!place) return;
  if (!state.computing) {
    clearTimeout(showWork);
    showWork = undefined;
    place.hidden = true;
    return;
  }
  const { title, done, of } = state.progress;
  const steps = STEPS;
  const words = /** @type {HTMLElement} */ (place.querySelector(".working"));
  words.textContent = title ? `Computing: ${title.toLowerCase()}${of ? `, part ${done + 1} of ${of}` : ""}` : "Computing";
  const bar = /** @type {HTMLProgressElement} */ (place.querySelector("progress"));
  bar.max = steps;
  bar.value = Math.min(steps, state.arrived.length + (of ? done / of : 0));
  showWork ??= window.setTimeout(() => {
    place.hidden = false;
  }, SHOW_WORK_AFTER_MS);
}

/** Fetch this page again until it is the one wanted, and swap in the parts that changed. */
function refresh() {
  refreshing ??= fetchUntilWanted().finally(() => {
    refreshing = null;
  });
  return refreshing;
}

async function fetchUntilWanted() {
  for (let face = ""; face !== wanted; ) {
    face = wanted;
    const response = await fetch(location.pathname, { headers: { accept: "text/html" } });
    if (!response.ok) return;
    swap(new DOMParser().parseFromString(await response.text(), "text/html"));
  }
}

/** @param {Document} fresh */
function swap(fresh) {
  for (const part of document.querySelectorAll("[data-live][id]")) {
    const other = fresh.getElementById(part.id);
    if (!other || served.get(part.id) === other.innerHTML) continue;
    if (part.id === "steps" && part.contains(document.activeElement)) continue;
    served.set(part.id, other.innerHTML);
    keepWhatWasOpened(part, other);
    keepFigures(part, other);
    const scrolled = part.querySelector("ol")?.scrollLeft ?? 0;
    const focused = document.activeElement;
    const place = focused && part.contains(focused) ? focused.id || focused.closest("[id]")?.id : "";
    part.replaceChildren(...other.childNodes);
    const list = part.querySelector("ol");
    if (list && scrolled) list.scrollLeft = scrolled;
    // Whoever stood in the part with the keyboard stands there still.
    if (place && place !== part.id) {
      const again = document.getElementById(place);
      const stop = again?.matches("a, button, input, summary") ? again : again?.querySelector("summary, input, a, button");
      if (stop instanceof HTMLElement) stop.focus({ preventScroll: true });
    }
  }
  document.dispatchEvent(new CustomEvent("page-swapped"));
}

/** @param {Element} part @param {Element} other */
function keepWhatWasOpened(part, other) {
  const before = new Map(
    [...part.querySelectorAll("details[id]")].map((found) => [found.id, /** @type {HTMLDetailsElement} */ (found).open]),
  );
  for (const details of other.querySelectorAll("details")) {
    const open = before.get(details.id);
    if (open !== undefined) details.open = open;
  }
  const reasons = new Map(
    [...part.querySelectorAll("form.decide")].map((form) => [
      decisionName(form),
      /** @type {HTMLInputElement} */ (form.querySelector("input")).value,
    ]),
  );
  for (const form of other.querySelectorAll("form.decide")) {
    const field = /** @type {HTMLInputElement} */ (form.querySelector("input"));
    field.value = reasons.get(decisionName(form)) ?? "";
  }
}

/** Let a figure's old drawing stand until the new one is ready.
 * @param {Element} part @param {Element} other */
function keepFigures(part, other) {
  for (const figure of other.querySelectorAll("figure[id]")) {
    const old = part.querySelector(`#${CSS.escape(figure.id)} .drawing img`);
    const fresh = figure.querySelector(".drawing img");
    if (!(old instanceof HTMLImageElement) || !(fresh instanceof HTMLImageElement)) continue;
    const address = new URL(fresh.dataset.src ?? "", location.href).href;
    old.alt = fresh.alt;
    if (old.dataset.src) continue;
    fresh.replaceWith(old);
    if (old.src === address) continue;
    const next = new Image();
    next.src = address;
    next.decode().then(
      () => old.setAttribute("src", next.getAttribute("src") ?? ""),
      () => {},
    );
  }
}

/** @param {Element} form */
function decisionName(form) {
  return `${form.getAttribute("data-table")}/${form.getAttribute("data-row")}`;
}
