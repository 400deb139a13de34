// @ts-check
// Trade terms explained where they stand: on hover, on focus and on a tap. The words come from
// the server's glossary; a term is marked once on a page, where it is met first.

const PLACES = "main .lead, main p, main .finding h3, main .finding-value, main figcaption, main .caveats li, main dd, main caption, main th[scope=row]";
const NOT_IN = "a, button, summary, label, input, select, code, study-sheet, .term, [role=tooltip], form";

/** @type {{pattern: RegExp, meaning: Map<string, string>}|null} */
let glossary = null;
const tip = document.createElement("div");
tip.id = "term-tip";
tip.setAttribute("role", "tooltip");
tip.hidden = true;
document.body.append(tip);
/** @type {number|undefined} */
let leaving;

async function begin() {
  const answer = await fetch("/api/glossary");
  if (!answer.ok) return;
  /** @type {{words: string[], meaning: string}[]} */
  const terms = (await answer.json()).terms;
  const meaning = new Map();
  for (const term of terms) for (const word of term.words) meaning.set(word.toLowerCase(), term.meaning);
  const words = [...meaning.keys()].sort((one, other) => other.length - one.length).map(escaped);
  glossary = { pattern: new RegExp(`(?<![\\p{L}\\d-])(?:${words.join("|")})(?![\\p{L}\\d-])`, "iu"), meaning };
  mark();
}

/** @param {string} words */
function escaped(words) {
  return words.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
}

/** Mark each term where it is met first. */
function mark() {
  if (!glossary) return;
  const met = new Set([...document.querySelectorAll(".term")].map((found) => found.getAttribute("data-term")));
  for (const place of document.querySelectorAll(PLACES)) {
    const walk = document.createTreeWalker(place, NodeFilter.SHOW_TEXT);
    const texts = [];
    while (walk.nextNode()) texts.push(/** @type {Text} */ (walk.currentNode));
    for (const text of texts) if (!text.parentElement?.closest(NOT_IN)) markIn(text, met);
  }
}

/** @param {Text} text @param {Set<string|null>} met */
function markIn(text, met) {
  let rest = text;
  for (;;) {
    const found = glossary?.pattern.exec(rest.data);
    if (!found || !glossary) return;
    const term = found[0].toLowerCase();
    const meaning = glossary.meaning.get(term) ?? "";
    const after = rest.splitText(found.index);
    rest = after.splitText(found[0].length);
    if (met.has(meaning)) continue;
    met.add(meaning);
    // No button element: a line of words cannot break inside one, nor hold to what stands beside it.
    const button = document.createElement("span");
    button.setAttribute("role", "button");
    button.tabIndex = 0;
    button.className = "term";
    button.dataset.term = meaning;
    button.textContent = found[0];
    button.setAttribute("aria-describedby", "term-tip");
    after.replaceWith(button);
  }
}

/** @param {HTMLElement} term */
function show(term) {
  clearTimeout(leaving);
  tip.textContent = term.dataset.term ?? "";
  tip.hidden = false;
  const box = term.getBoundingClientRect();
  const width = Math.min(tip.offsetWidth, document.documentElement.clientWidth - 16);
  const left = Math.max(8, Math.min(box.left, document.documentElement.clientWidth - width - 8));
  const below = box.bottom + tip.offsetHeight + 12 < window.innerHeight;
  tip.style.left = `${left + window.scrollX}px`;
  tip.style.top = `${(below ? box.bottom + 6 : box.top - tip.offsetHeight - 6) + window.scrollY}px`;
}

function hide() {
  clearTimeout(leaving);
  tip.hidden = true;
}

/** @param {Event} event */
function termOf(event) {
  return event.target instanceof Element ? /** @type {HTMLElement|null} */ (event.target.closest(".term")) : null;
}

document.addEventListener("pointerover", (event) => {
  const term = termOf(event);
  if (term) show(term);
  else if (event.target === tip) clearTimeout(leaving);
  else if (!tip.hidden && !document.activeElement?.matches(".term")) {
    clearTimeout(leaving);
    leaving = window.setTimeout(hide, 250);
  }
});
document.addEventListener("focusin", (event) => {
  const term = termOf(event);
  if (term) show(term);
  else hide();
});
document.addEventListener("click", (event) => {
  const term = termOf(event);
  if (term) show(term);
  else if (event.target !== tip) hide();
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && !tip.hidden) hide();
  const term = event.key === "Enter" || event.key === " " ? termOf(event) : null;
  if (!term) return;
  event.preventDefault();
  show(term);
});
document.addEventListener("page-swapped", mark);
void begin();
