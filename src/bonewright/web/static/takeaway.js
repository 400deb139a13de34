// @ts-check
// The page of what is taken away: begins and stops errands, and moves their bars.

import { catchUp } from "./live.js";
import { send } from "./server.js";

/** @typedef {import("./server.js").State} State */

/** @param {SubmitEvent} event */
async function begin(event) {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.matches(".errand-form, .keep-form")) return;
  event.preventDefault();
  const output = /** @type {HTMLOutputElement} */ (form.querySelector("output"));
  output.textContent = "";
  try {
    if (form.classList.contains("keep-form")) {
      const kept = await send("/api/kept-runs", {});
      output.textContent = `Kept as run ${kept.run}.`;
    } else {
      const { number } = await send("/api/errands", { kind: form.dataset.kind, ...values(form) });
      output.textContent = "Begun; see above.";
      await catchUp();
      document.getElementById(`errand-${number}`)?.scrollIntoView({ block: "nearest" });
    }
  } catch (fault) {
    output.textContent = fault instanceof Error ? fault.message : String(fault);
  }
}

/** What a form says: numbers as numbers, the rest as words. @param {HTMLFormElement} form */
function values(form) {
  /** @type {Record<string, string|number>} */
  const said = {};
  for (const [name, value] of new FormData(form)) {
    const field = form.elements.namedItem(name);
    said[name] = field instanceof HTMLInputElement && field.type === "number" ? Number(value) : String(value);
  }
  return said;
}

document.addEventListener("submit", (event) => void begin(event));
document.addEventListener("click", (event) => {
  const pressed = event.target instanceof Element ? event.target.closest("[data-stop-errand]") : null;
  if (pressed) void send(`/api/errands/${pressed.getAttribute("data-stop-errand")}/stop`, {}).then(catchUp);
});
document.addEventListener("state", (event) => {
  const state = /** @type {CustomEvent<State>} */ (event).detail;
  for (const errand of state.errands) {
    const bar = document.querySelector(`progress[data-errand="${errand.number}"]`);
    const words = document.querySelector(`[data-errand-words="${errand.number}"]`);
    if (words && errand.doing) words.textContent = errand.doing;
    if (bar instanceof HTMLProgressElement && errand.of > 1) {
      bar.max = errand.of;
      bar.value = errand.done;
    }
  }
});
