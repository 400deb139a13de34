// @ts-check
// What the last edit moved: worked out after the results are there, and shown when it is known.

let asked = -1;

document.addEventListener("state", (event) => {
  const state = /** @type {CustomEvent<import("./server.js").State>} */ (event).detail;
  if (state.computing || state.number === asked) return;
  asked = state.number;
  void fetch("/part/changes").then(async (answer) => {
    const place = document.getElementById("last-edit");
    if (!answer.ok || !place || state.number !== asked) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    place.replaceChildren(...fresh.body.childNodes);
  });
});
