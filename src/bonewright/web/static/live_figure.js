// @ts-check
// Figures that answer: the same chart that is printed, drawn in the page when a person asks,
// telling its values under the pointer or step by step with the arrow keys, and the rows
// behind a point when that is pressed. The still drawing comes first and stays for printing.

import { read, wordsOf } from "./server.js";

const LIBRARIES = ["vega-6.2.0/build/vega.min.js", "vega-lite-6.4.1/build/vega-lite.min.js", "vega-embed-7.3.0/build/vega-embed.min.js"];
const POINTS = new Set(["symbol", "rule", "rect"]);
// Fields that say how a mark looks, not what it shows.
const LOOKS = new Set(["x", "y", "x2", "y2", "order", "shape", "ring", "colour", "fill", "line", "size", "thick", "width", "hole", "lane", "url", "to_x", "to_y", "to_year", "to_score", "finding"]);
// Ends of one interval, told in one line.
const PAIRS = new Map([["from", "to"], ["low", "high"], ["inner", "outer"]]);
const DIGITS = 3;

/** @type {Promise<void>|null} */
let libraries = null;
/** @type {Map<string, any>} views drawn, by figure */
const drawn = new Map();
/** @type {HTMLElement|null} */
let tip = null;

function fetchLibraries() {
  libraries ??= LIBRARIES.reduce(
    (before, name) =>
      before.then(
        () =>
          new Promise((resolve, reject) => {
            const script = document.createElement("script");
            script.src = `/static/vendor/${name}`;
            script.addEventListener("load", () => resolve());
            script.addEventListener("error", () => reject(new Error("The drawing library did not come. Reload the page.")));
            document.head.append(script);
          }),
      ),
    /** @type {Promise<void>} */ (Promise.resolve()),
  );
  return libraries;
}

/** @param {number} value @param {string} field */
function numberWords(value, field) {
  if (field === "year") return value.toFixed(0);
  return String(Number(value.toPrecision(DIGITS))).replace("-", "\u2212");
}

/** What a mark shows, a line each. @param {any} item @param {Record<string, string>} titles */
function linesOf(item, titles) {
  const datum = item.datum ?? {};
  const lines = datum.name ? [String(datum.name)] : [];
  const years = titles.from === titles.year && "year" in datum;
  for (const [field, shown] of Object.entries(datum)) {
    if (LOOKS.has(field) || field === "name" || field.endsWith("_sort_index") || [...PAIRS.values()].includes(field)) continue;
    if (typeof shown === "string") lines.push(shown);
    if (typeof shown !== "number") continue;
    const other = datum[PAIRS.get(field) ?? ""];
    const words = (/** @type {number} */ number) => numberWords(number, years && field === "from" ? "year" : field);
    const title = titles[field] ?? (PAIRS.has(field) ? "" : field);
    lines.push((title ? `${title}: ` : "") + (typeof other === "number" ? `${words(shown)} to ${words(other)}` : words(shown)));
  }
  return [...new Set(lines)];
}

/** Whether a mark is one of the things shown: no part of the key, no band behind.
 * @param {any} datum */
function tells(datum) {
  if (!datum || ("line" in datum && "shape" in datum)) return false;
  return Object.entries(datum).some(([field, shown]) => !LOOKS.has(field) && typeof shown === "string");
}

/** @param {string[]} lines @param {number} left @param {number} top */
function showTip(lines, left, top) {
  if (!tip) {
    tip = document.createElement("div");
    tip.id = "figure-tip";
    tip.setAttribute("role", "status");
    document.body.append(tip);
  }
  tip.hidden = lines.length === 0;
  tip.replaceChildren(...lines.map((words) => Object.assign(document.createElement("p"), { textContent: words })));
  const wide = Math.min(tip.offsetWidth, window.innerWidth);
  tip.style.left = `${Math.max(4, Math.min(left + 14, window.innerWidth - wide - 8)) + window.scrollX}px`;
  tip.style.top = `${top + 14 + window.scrollY}px`;
}

function hideTip() {
  if (tip) tip.hidden = true;
}

/** The marks that show something, with their places in the drawing.
 * @param {any} view @returns {{item: any, x: number, y: number}[]} */
function pointsOf(view) {
  /** @type {{item: any, x: number, y: number}[]} */
  const found = [];
  /** @param {any} mark @param {number} x @param {number} y */
  const walk = (mark, x, y) => {
    for (const item of mark.items ?? []) {
      if (mark.marktype === "group") for (const inner of item.items ?? []) walk(inner, x + (item.x ?? 0), y + (item.y ?? 0));
      else if (POINTS.has(mark.marktype) && mark.role === "mark" && tells(item.datum)) {
        const box = item.bounds;
        found.push({ item, x: x + (box.x1 + box.x2) / 2, y: y + (box.y1 + box.y2) / 2 });
      }
    }
  };
  walk(view.scenegraph().root, 0, 0);
  return found;
}

/** @param {HTMLElement} figure @param {any} datum */
async function showRows(figure, datum) {
  const place = figure.querySelector(".figure-rows");
  if (!place || !datum || (!datum.name && !datum.finding)) return;
  const words = document.createElement("strong");
  place.replaceChildren(words);
  if (datum.finding) {
    words.textContent = `${datum.label ?? ""} `;
    place.append(Object.assign(document.createElement("a"), { href: `#${datum.finding}`, textContent: "How it was got, with its rows" }));
    return;
  }
  words.textContent = `${datum.name} `;
  try {
    const { rows, more } = await read(`/api/rows?name=${encodeURIComponent(datum.name)}`);
    for (const row of rows) place.append(Object.assign(document.createElement("a"), { href: row.href, textContent: row.words }), " ");
    if (more) place.append(`and ${more} more`);
    if (!rows.length) place.append("No row names it by itself.");
  } catch (fault) {
    place.append(wordsOf(fault));
  }
}

/** @param {HTMLElement} figure */
async function draw(figure) {
  const key = figure.id.replace("figure-", "");
  const button = /** @type {HTMLButtonElement} */ (figure.querySelector(".figure-live"));
  const drawing = /** @type {HTMLElement} */ (figure.querySelector(".drawing"));
  button.disabled = true;
  try {
    const [specification] = await Promise.all([read(`/api/figure/${encodeURIComponent(key)}`), fetchLibraries()]);
    const titles = specification.usermeta.titles;
    const stage = document.createElement("div");
    stage.className = "figure-stage";
    drawing.append(stage);
    // @ts-ignore - the library ships no types here
    const { view } = await window.vegaEmbed(stage, specification, {
      mode: "vega-lite",
      ast: true,
      actions: false,
      renderer: "svg",
      defaultStyle: false,
      tooltip: (/** @type {any} */ _, /** @type {MouseEvent} */ event, /** @type {any} */ item, /** @type {any} */ value) => {
        if (!value) hideTip();
        else showTip(linesOf(item, titles), event.clientX, event.clientY);
      },
    });
    // To be read aloud it is one picture with one description, and its points step by step.
    stage.setAttribute("role", "img");
    stage.setAttribute("aria-label", drawing.querySelector("img")?.alt ?? "");
    stage.querySelector("svg")?.setAttribute("aria-hidden", "true");
    view.addEventListener("click", (/** @type {any} */ _, /** @type {any} */ item) => void showRows(figure, item?.datum));
    drawn.set(key, view);
    drawing.classList.add("drawing-live");
    walkByKeyboard(figure, drawing, view, titles);
    button.textContent = "Arrow keys step through it";
    figure.dataset.live = "yes";
  } catch (fault) {
    button.disabled = false;
    const place = figure.querySelector(".figure-rows");
    if (place) place.textContent = wordsOf(fault);
  }
}

/** @param {HTMLElement} figure @param {HTMLElement} drawing @param {any} view
 * @param {Record<string, string>} titles */
function walkByKeyboard(figure, drawing, view, titles) {
  let at = -1;
  drawing.addEventListener("keydown", (event) => {
    const points = pointsOf(view);
    if (!points.length) return;
    const by = /** @type {Record<string, number>} */ ({ ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 })[event.key];
    if (by) at = (at + by + points.length) % points.length;
    else if (event.key === "Enter" && at >= 0) void showRows(figure, points[at].item.datum);
    else if (event.key === "Escape") return hideTip();
    else return;
    event.preventDefault();
    if (!by) return;
    const { item, x, y } = points[at];
    const svg = /** @type {SVGSVGElement} */ (drawing.querySelector(".figure-stage svg"));
    const frame = svg.getBoundingClientRect();
    const scale = frame.width / (svg.viewBox.baseVal.width || frame.width);
    const [left, top] = view.origin();
    showTip(linesOf(item, titles), frame.left + scale * (x + left), frame.top + scale * (y + top));
  });
  drawing.addEventListener("blur", hideTip);
  drawing.addEventListener("pointerleave", hideTip);
}

document.addEventListener("click", (event) => {
  const pressed = event.target instanceof Element ? event.target.closest(".figure-live") : null;
  const figure = pressed?.closest("figure");
  if (figure instanceof HTMLElement) void draw(figure);
});

// The results were computed again: a figure that was live is drawn anew.
document.addEventListener("page-swapped", () => {
  for (const [key, view] of drawn) {
    const figure = document.getElementById(`figure-${key}`);
    if (!figure || figure.dataset.live) continue;
    view.finalize();
    drawn.delete(key);
    void draw(figure);
  }
});
