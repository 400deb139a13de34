// @ts-check
// The study's own page: what the study is about, and putting a copy of the demo back.

import { catchUp } from "./live.js";
import { send } from "./server.js";

/** @param {HTMLElement|null} place @param {string} words */
function say(place, words) {
  if (place) place.textContent = words;
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.matches(".about-form")) return;
  event.preventDefault();
  const said = form.querySelector("output");
  send("/api/about", Object.fromEntries(new FormData(form))).then(
    async () => {
      say(said, "Saved in study.toml.");
      await catchUp();
      const title = String(new FormData(form).get("title"));
      say(document.querySelector("main h1"), title);
      say(document.querySelector(".top-study a"), title);
      say(document.querySelector("main .lead"), String(new FormData(form).get("question")));
    },
    (fault) => say(said, fault.message),
  );
});

document.getElementById("restore-demo")?.addEventListener("click", () => {
  const said = document.getElementById("restore-said");
  send("/api/history/restore", { to: "step 1" }).then(
    async () => {
      say(said, "It stands as it was. What you had changed is kept in the history.");
      await catchUp();
    },
    (fault) => say(said, fault.message),
  );
});
