// @ts-check
// Small menus of a grid: what can be done with a column, and with the cells selected. Both
// are the platform's own popovers: Escape and a click elsewhere close them.

/** @typedef {import("./sheet_order.js").SheetOrder} SheetOrder */
/** @typedef {import("./sheet_order.js").Filter} Filter */
/** @typedef {import("./server.js").Column} Column */

const MOST_VALUES = 30;

class Popover {
  /** @param {string} name */
  constructor(name) {
    this.element = document.createElement("div");
    this.element.className = "sheet-menu";
    this.element.popover = "auto";
    this.element.setAttribute("role", "dialog");
    this.element.setAttribute("aria-label", name);
    this.element.addEventListener("keydown", (event) => this.#key(event));
    /** @type {() => void} */
    this.onClosed = () => {};
    this.element.addEventListener("toggle", (event) => {
      if (/** @type {ToggleEvent} */ (event).newState === "closed") this.onClosed();
    });
  }

  /** @param {number} x @param {number} y */
  openAt(x, y) {
    this.element.showPopover();
    const { width, height } = this.element.getBoundingClientRect();
    this.element.style.left = `${Math.max(4, Math.min(x, innerWidth - width - 4))}px`;
    this.element.style.top = `${Math.max(4, Math.min(y, innerHeight - height - 4))}px`;
    /** @type {HTMLElement|null} */ (this.element.querySelector("button, input, select"))?.focus();
  }

  close() {
    if (this.element.matches(":popover-open")) this.element.hidePopover();
  }

  /** Arrow keys walk through what can be pressed. @param {KeyboardEvent} event */
  #key(event) {
    event.stopPropagation();
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || event.target instanceof HTMLSelectElement) return;
    event.preventDefault();
    const stops = [...this.element.querySelectorAll("button, input, select")].filter(
      (stop) => !(/** @type {HTMLButtonElement} */ (stop).disabled),
    );
    const at = stops.indexOf(/** @type {Element} */ (document.activeElement));
    /** @type {HTMLElement} */ (stops[(at + step + stops.length) % stops.length])?.focus();
  }
}

export class CellMenu extends Popover {
  constructor() {
    super("What to do with the cells selected");
  }

  /** @param {number} x @param {number} y @param {{words: string, key?: string, act: () => void, off?: boolean}[]} entries */
  show(x, y, entries) {
    this.element.replaceChildren(
      ...entries.map(({ words, key, act, off }) => {
        const made = document.createElement("button");
        made.type = "button";
        made.disabled = Boolean(off);
        made.append(words);
        if (key) {
          const hint = document.createElement("kbd");
          hint.textContent = key;
          made.append(" ", hint);
        }
        made.addEventListener("click", () => {
          this.close();
          act();
        });
        return made;
      }),
    );
    this.openAt(x, y);
  }
}

export class ColumnMenu extends Popover {
  constructor() {
    super("Sort and filter");
  }

  /**
   * @param {Element} near @param {Column} column @param {number} place @param {SheetOrder} order
   * @param {() => string[]} values what stands in the column
   * @param {() => void} arrange @param {import("./column_resizing.js").ColumnResizing} resizing
   */
  show(near, column, place, order, values, arrange, resizing) {
    const title = document.createElement("p");
    title.className = "menu-title";
    title.textContent = column.title;
    const about = document.createElement("p");
    about.className = "quiet";
    about.textContent = column.description;
    const number = column.kind === "number" || column.kind === "integer";
    /** @param {string} words @param {import("./sheet_order.js").SheetOrder["sorted"]} sorted */
    const sorter = (words, sorted) =>
      this.#button(words, () => {
        order.sorted = sorted;
        arrange();
      });
    const sorters = [
      sorter(number ? "Smallest first" : "A to Z", { place, down: false }),
      sorter(number ? "Largest first" : "Z to A", { place, down: true }),
    ];
    if (order.sorted) sorters.push(sorter("As in the file", null));
    /** @param {Filter|null} filter */
    const filter = (filter) => {
      if (filter) order.filters.set(place, filter);
      else order.filters.delete(place);
      arrange();
    };
    const parts = [
      title,
      about,
      ...sorters,
      this.#form(order.filters.get(place), values(), filter),
      this.#button("Only empty cells", () => filter({ kind: "empty" })),
      this.#button("Only filled cells", () => filter({ kind: "filled" })),
    ];
    if (order.filters.has(place)) parts.push(this.#button("Every row", () => filter(null)));
    parts.push(this.#widths(place, resizing));
    this.element.replaceChildren(...parts);
    const at = near.getBoundingClientRect();
    this.openAt(at.left, at.bottom);
  }

  /** @param {string} words @param {() => void} act @param {boolean} [stays] whether the menu stays open */
  #button(words, act, stays = false) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = words;
    made.addEventListener("click", () => {
      if (!stays) this.close();
      act();
    });
    return made;
  }

  /** @param {number} place @param {import("./column_resizing.js").ColumnResizing} resizing */
  #widths(place, resizing) {
    const group = document.createElement("p");
    group.className = "menu-widths";
    group.setAttribute("role", "group");
    group.setAttribute("aria-label", "Width of the column");
    group.title = "Or Alt+Shift with the arrow keys, or the edge of the title";
    group.append(
      this.#button("Narrower", () => resizing.narrower(place), true),
      this.#button("Wider", () => resizing.wider(place), true),
      this.#button("As wide as its text", () => resizing.fit(place)),
    );
    return group;
  }

  /**
   * @param {Filter|undefined} standing @param {string[]} values
   * @param {(filter: Filter|null) => void} filter
   */
  #form(standing, values, filter) {
    const form = document.createElement("form");
    const field = document.createElement("input");
    field.value = standing?.kind === "holds" ? standing.words : "";
    const list = document.createElement("select");
    list.append(new Option("(any)", ""), ...values.map((value) => new Option(value, value)));
    list.setAttribute("aria-label", "Is");
    list.value = standing?.kind === "is" ? standing.words : "";
    const go = document.createElement("button");
    go.textContent = "Show these rows";
    form.append(labelled("Holds", field));
    if (values.length > 0 && values.length <= MOST_VALUES) form.append(labelled("Is", list));
    form.append(go);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      event.stopPropagation();
      this.close();
      const words = field.value.trim();
      if (list.value !== "") filter({ kind: "is", words: list.value });
      else filter(words === "" ? null : { kind: "holds", words });
    });
    return form;
  }
}

/** @param {string} words @param {HTMLElement} field */
function labelled(words, field) {
  const label = document.createElement("label");
  label.append(`${words} `, field);
  return label;
}
