// @ts-check
// A spreadsheet before it is imported: what each column is taken for, to be corrected, what
// would come into the tables, and every problem it would bring.

import { counted } from "./sheet_bar.js";
import { send, wordsOf } from "./server.js";

/** @typedef {import("./server.js").Problem} Problem */
/**
 * @typedef {{key: string, name: string, kind: string}} Arrival
 * @typedef {{header: string, samples: string[], column: string, code: string, element: string,
 *   unit: string, understood: boolean, told: boolean}} Column
 * @typedef {{added: Record<string, number>, known: Record<string, number>, recognised: string[], differing: string[],
 *   assumed: string[], kept_as_remarks: string[], without_bone: string[], problems: Problem[],
 *   more: number}} Preview
 * @typedef {{name: string, title: string}} Named
 * @typedef {{name: string, sheets: {name: string, rows: number, element: string,
 *   columns: Column[]}[], element: string, unit: string, institution: string, waits_for: string,
 *   preview: Preview|null, columns: Named[], codes: Named[], elements: string[],
 *   units: string[]}} Plan
 */

const REMARKS = "remarks";

export class ImportPanel {
  /** @param {() => void} onImported */
  constructor(onImported) {
    this.onImported = onImported;
    this.element = document.createElement("section");
    this.element.className = "import-panel";
    this.element.hidden = true;
    this.element.setAttribute("aria-label", "Import of a spreadsheet");
    /** @type {Arrival[]} */
    this.waiting = [];
    /** @type {Arrival|null} */
    this.arrival = null;
    this.#forget();
  }

  #forget() {
    /** @type {Record<string, string>} */
    this.told = {};
    this.element_ = "";
    this.unit = "";
    this.institution = "";
  }

  /** Show a spreadsheet, after those before it. @param {Arrival} arrival */
  async begin(arrival) {
    if (this.arrival) {
      this.waiting.push(arrival);
      return;
    }
    this.arrival = arrival;
    this.#forget();
    await this.#plan();
    this.element.querySelector("h3")?.focus();
  }

  /** Let a spreadsheet be. @param {string} key */
  leave(key) {
    this.waiting = this.waiting.filter((arrival) => arrival.key !== key);
    if (this.arrival?.key === key) this.#next();
  }

  #next() {
    this.arrival = null;
    this.element.hidden = true;
    const following = this.waiting.shift();
    if (following) void this.begin(following);
  }

  #message() {
    return { key: this.arrival?.key, told: this.told, element: this.element_, unit: this.unit, institution: this.institution };
  }

  async #plan() {
    this.element.hidden = false;
    this.element.setAttribute("aria-busy", "true");
    try {
      this.#draw(/** @type {Plan} */ (await send("/api/import/plan", this.#message())));
    } catch (fault) {
      this.#fault(fault);
    } finally {
      this.element.removeAttribute("aria-busy");
    }
  }

  /** @param {unknown} fault */
  #fault(fault) {
    const words = said("p", wordsOf(fault), "intake-fault");
    words.setAttribute("role", "alert");
    this.element.querySelector(".intake-fault")?.remove();
    this.element.append(words);
  }

  /** @param {Plan} plan */
  #draw(plan) {
    const hadFocus = this.element.contains(document.activeElement);
    const focused = document.activeElement?.id ?? "";
    const title = said("h3", `Import ${plan.name}`, "");
    title.tabIndex = -1;
    this.element.replaceChildren(title, ...(plan.sheets.length ? [this.#answers(plan)] : []));
    for (const sheet of plan.sheets) {
      this.element.append(said("h4", `${sheet.name}: ${counted(sheet.rows, "row")}${sheet.element ? `, all of them ${sheet.element}` : ""}`, ""));
      this.element.append(this.#columns(plan, sheet));
    }
    if (plan.waits_for) this.element.append(said("p", plan.waits_for, "intake-fault"));
    if (plan.preview) this.element.append(...this.#preview(plan.preview, plan.sheets.length > 0));
    const act = document.createElement("button");
    act.type = "button";
    act.className = "main-button";
    act.textContent = "Import these rows";
    act.disabled = plan.preview === null;
    act.addEventListener("click", () => void this.#import());
    const leave = document.createElement("button");
    leave.type = "button";
    leave.textContent = "Leave it";
    leave.addEventListener("click", () => {
      void send("/api/incoming/forget", { key: this.arrival?.key });
      this.#next();
    });
    const acts = document.createElement("p");
    acts.className = "intake-choose";
    acts.append(act, leave);
    this.element.append(acts);
    if (hadFocus) (document.getElementById(focused) ?? title).focus();
  }

  /** What holds for rows that do not say it themselves. @param {Plan} plan */
  #answers(plan) {
    const form = document.createElement("div");
    form.className = "import-answers";
    const element = choice("import-element", [["", "(each row says it)"], ...plan.elements.map(pair)], plan.element);
    element.addEventListener("change", () => this.#again(() => (this.element_ = element.value)));
    const unit = choice("import-unit", plan.units.map(pair), plan.unit);
    unit.addEventListener("change", () => this.#again(() => (this.unit = unit.value)));
    const institution = document.createElement("input");
    institution.id = "import-institution";
    institution.value = plan.institution;
    institution.addEventListener("change", () => this.#again(() => (this.institution = institution.value)));
    form.append(
      labelled("Bone of all rows", element),
      labelled("Unit of lengths", unit),
      labelled("Collection, where none is named", institution),
    );
    return form;
  }

  /** @param {() => void} change */
  #again(change) {
    change();
    void this.#plan();
  }

  /** @param {Plan} plan @param {Plan["sheets"][number]} sheet */
  #columns(plan, sheet) {
    const frame = document.createElement("div");
    frame.className = "import-columns";
    const table = document.createElement("table");
    const head = table.createTHead().insertRow();
    for (const words of ["Column", "Its first cells", "Taken for", "Of which bone", "Unit"]) {
      const cell = document.createElement("th");
      cell.scope = "col";
      cell.textContent = words;
      head.append(cell);
    }
    const body = table.createTBody();
    for (const column of sheet.columns) this.#column(body.insertRow(), column, plan);
    frame.append(table);
    return frame;
  }

  /** @param {HTMLTableRowElement} line @param {Column} column @param {Plan} plan */
  #column(line, column, plan) {
    const header = document.createElement("th");
    header.scope = "row";
    header.textContent = column.header;
    line.append(header);
    line.insertCell().textContent = column.samples.join(" · ") || "(empty)";
    const name = `import-${plan.name}-${line.rowIndex}-${column.header}`.replace(/\W+/g, "-");
    const known = column.code ? `code ${column.code}` : column.understood ? column.column : REMARKS;
    const what = choice(name, [], known);
    what.replaceChildren(
      new Option("Remarks, with the column's name", REMARKS),
      group("About the bone", plan.columns.map(({ name: value, title }) => [value, title])),
      group("A measurement", plan.codes.map(({ name: code, title }) => [`code ${code}`, `${code}: ${title}`])),
    );
    what.value = known;
    what.setAttribute("aria-label", `${column.header} is taken for`);
    const cell = line.insertCell();
    cell.append(what);
    if (!column.understood && !column.told) {
      line.className = "not-understood";
      cell.append(said("span", "not understood", "intake-fault"));
    }
    const bone = choice(`${name}-bone`, [["", "the row's"], ...plan.elements.map(pair)], column.element);
    bone.setAttribute("aria-label", `${column.header}: of which bone`);
    const unit = choice(`${name}-unit`, [["", `as above (${plan.unit})`], ...plan.units.map(pair)], column.unit);
    unit.setAttribute("aria-label", `${column.header}: unit`);
    const tell = () =>
      this.#again(() => {
        const code = what.value.startsWith("code ");
        const parts = code ? [bone.value, what.value, unit.value] : [what.value];
        this.told[column.header] = parts.filter(Boolean).join(" ");
      });
    for (const field of [what, bone, unit]) field.addEventListener("change", tell);
    for (const field of [bone, unit]) {
      field.disabled = column.code === "";
      line.insertCell().append(field);
    }
  }

  /** @param {Preview} preview @param {boolean} isSheet */
  #preview(preview, isSheet) {
    const parts = [said("h4", "What would come into the tables", "")];
    parts.push(list(countsOf(preview, "would be added")));
    if (preview.assumed.length) parts.push(said("p", `Taken for granted: ${preview.assumed.join("; ")}.`, ""));
    parts.push(
      ...folded("Recognised by collection, catalogue number, bone and side: in the study under another name", preview.recognised),
      ...folded("In the study with another value; the study's stays", preview.differing),
      ...folded("No such value: kept in the remarks of the bone", preview.kept_as_remarks),
      ...folded("Rows without a bone, not taken", preview.without_bone),
      ...folded("Problems that the import would bring, to be mended in the tables", preview.problems.map((problem) => problem.sentence), true),
    );
    if (preview.more) parts.push(said("p", `And ${preview.more} more lines like these.`, "quiet"));
    if (isSheet) parts.push(said("p", "What you say of columns is kept in imports.toml: the next sheet of that kind is read without a question.", "quiet"));
    return parts;
  }

  async #import() {
    const name = this.arrival?.name ?? "";
    try {
      const done = /** @type {Preview} */ (await send("/api/import/rows", this.#message()));
      this.element.replaceChildren(said("h3", `Imported ${name}`, ""), list(countsOf(done, "added")));
      this.element.append(...folded("Recognised: in the study under another name", done.recognised));
      const words = said("p", "It is one step of the history: Undo takes it back.", "quiet");
      words.setAttribute("role", "status");
      this.element.append(words);
      this.onImported();
      this.arrival = null;
      const following = this.waiting.shift();
      if (following) await this.begin(following);
    } catch (fault) {
      this.#fault(fault);
    }
  }
}

/** @param {Preview} preview @param {string} words */
function countsOf(preview, words) {
  return Object.keys(preview.added).map((table) => {
    const known = preview.known[table] ? `, ${preview.known[table]} there already` : "";
    return `${table}: ${counted(preview.added[table], "row")} ${words}${known}`;
  });
}

/** @param {string} title @param {string[]} lines @param {boolean} [open] */
function folded(title, lines, open = false) {
  if (lines.length === 0) return [];
  const made = document.createElement("details");
  made.open = open;
  const summary = document.createElement("summary");
  summary.textContent = `${title}: ${lines.length}`;
  made.append(summary, list(lines));
  return [made];
}

/** @param {string[]} lines */
function list(lines) {
  const made = document.createElement("ul");
  made.append(...lines.map((words) => said("li", words, "")));
  return made;
}

/** @param {string} tag @param {string} words @param {string} kind */
function said(tag, words, kind) {
  const made = document.createElement(tag);
  made.textContent = words;
  made.className = kind;
  return made;
}

/** @param {string} value @returns {[string, string]} */
function pair(value) {
  return [value, value];
}

/** @param {string} id @param {[string, string][]} options @param {string} value */
function choice(id, options, value) {
  const made = document.createElement("select");
  made.id = id;
  made.append(...options.map(([key, words]) => new Option(words, key)));
  made.value = value;
  return made;
}

/** @param {string} title @param {[string, string][]} options */
function group(title, options) {
  const made = document.createElement("optgroup");
  made.label = title;
  made.append(...options.map(([key, words]) => new Option(words, key)));
  return made;
}

/** @param {string} words @param {HTMLElement} field */
function labelled(words, field) {
  const label = document.createElement("label");
  label.append(`${words} `, field);
  return label;
}
