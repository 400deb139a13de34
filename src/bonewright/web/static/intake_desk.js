// @ts-check
// Files brought in: dropped on the page or chosen, sent, looked at, taken into the study; and
// spreadsheets handed on to the import.

import { ImportPanel } from "./import_panel.js";
import { send, sendFile, wordsOf } from "./server.js";
import { StudySheet } from "./sheet.js";

/**
 * @typedef {{key: string, name: string, size_bytes: number, checksum: string, kind: string}} Arrival
 * @typedef {{file: string, is_new: boolean, table: string, table_title: string, step: string,
 *   cells: Record<string, string>, note: string}} Taken
 */

const KINDS = /** @type {Record<string, string>} */ ({
  picture: "picture",
  scan: "scanned surface",
  outline: "outline of a cross-section",
  tree: "tree of relatives",
  slices: "slice of a stack",
  spreadsheet: "spreadsheet",
  archive: "Darwin Core Archive",
});
const TO_IMPORT = new Set(["spreadsheet", "archive"]);

class IntakeDesk extends HTMLElement {
  dialog = document.createElement("dialog");
  list = document.createElement("ul");
  status = document.createElement("p");
  imports = new ImportPanel(() => this.#imported());
  /** @type {Promise<void>} one file is sent at a time */
  line = Promise.resolve();

  connectedCallback() {
    const open = document.createElement("button");
    open.type = "button";
    open.textContent = "Bring in a spreadsheet or files";
    open.addEventListener("click", () => this.open());
    this.append(open, this.#made());
    document.addEventListener("dragover", (event) => {
      if (!event.dataTransfer?.types.includes("Files")) return;
      event.preventDefault();
      document.body.classList.add("files-over");
    });
    document.addEventListener("dragleave", (event) => {
      if (event.relatedTarget === null) document.body.classList.remove("files-over");
    });
    document.addEventListener("drop", (event) => void this.#drop(event));
  }

  open() {
    if (!this.dialog.open) this.dialog.showModal();
  }

  #made() {
    const { dialog } = this;
    dialog.className = "intake";
    dialog.setAttribute("aria-labelledby", "intake-title");
    const title = document.createElement("h2");
    title.id = "intake-title";
    title.textContent = "Bring in a spreadsheet or files";
    const words = document.createElement("p");
    words.textContent =
      "Drop them anywhere on the page, or choose them. Spreadsheets (CSV, xlsx, ods, Darwin Core" +
      " zip) are shown column by column before anything is imported. Pictures, scans, outlines and" +
      " trees are copied into the study; the files you choose are not changed.";
    const files = picker("Choose files", false, (chosen) => this.#take(chosen));
    const folder = picker("Choose a folder of slices", true, (chosen) => this.#take(chosen));
    const choose = document.createElement("p");
    choose.className = "intake-choose";
    choose.append(files, folder);
    this.list.className = "intake-list";
    this.status.setAttribute("role", "status");
    const close = document.createElement("button");
    close.type = "button";
    close.textContent = "Close";
    close.addEventListener("click", () => dialog.close());
    dialog.append(title, words, choose, this.status, this.list, this.imports.element, close);
    return dialog;
  }

  /** @param {DragEvent} event */
  async #drop(event) {
    document.body.classList.remove("files-over");
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    // The entries must be asked for before the drop is over.
    const entries = [...event.dataTransfer.items].flatMap((item) => item.webkitGetAsEntry() ?? []);
    const loose = [...event.dataTransfer.files];
    this.open();
    const found = entries.length
      ? (await Promise.all(entries.map((entry) => filesOf(entry, "")))).flat()
      : loose.map((file) => ({ file, stack: "" }));
    this.#take(found);
  }

  /** @param {{file: File, stack: string}[]} chosen */
  #take(chosen) {
    const stacks = new Map();
    for (const { file, stack } of chosen) {
      if (file.name.startsWith(".")) continue;
      if (!stack) {
        const line = new Line(file.name, file.size);
        this.list.append(line.element);
        this.line = this.line.then(() => this.#send(file, "", line));
        continue;
      }
      stacks.set(stack, [...(stacks.get(stack) ?? []), file]);
    }
    for (const [stack, files] of stacks) {
      const size = files.reduce((/** @type {number} */ sum, /** @type {File} */ file) => sum + file.size, 0);
      const line = new Line(`${stack} (${files.length} files)`, size);
      this.list.append(line.element);
      this.line = this.line.then(() => this.#sendStack(stack, files, line));
    }
  }

  /** @param {File} file @param {string} stack @param {Line} line */
  async #send(file, stack, line) {
    if (line.stopped) return;
    try {
      const arrival = /** @type {Arrival} */ (
        await sendFile(file, stack, (share) => line.progress(share), line.stop.signal)
      );
      if (TO_IMPORT.has(arrival.kind)) {
        line.done(KINDS[arrival.kind], arrival);
        line.offer("Leave it", () => {
          this.imports.leave(arrival.key);
          void send("/api/incoming/forget", { key: arrival.key });
          line.element.remove();
        });
        await this.imports.begin(arrival);
      } else {
        line.done(KINDS[arrival.kind], arrival);
        await this.#keep(arrival, line);
      }
    } catch (fault) {
      line.failed(fault);
    }
  }

  /** @param {string} stack @param {File[]} files @param {Line} line */
  async #sendStack(stack, files, line) {
    /** @type {Taken|null} */
    let last = null;
    try {
      const ordered = [...files].sort((one, other) => one.name.localeCompare(other.name, "en", { numeric: true }));
      for (const [count, file] of ordered.entries()) {
        if (line.stopped) return;
        const arrival = await sendFile(file, stack, (share) => line.progress((count + share) / files.length), line.stop.signal);
        last = /** @type {Taken} */ (await send("/api/files", { key: arrival.key }));
      }
      if (!last) return;
      const taken = last;
      line.kept(`Now in files/${taken.file.slice(0, taken.file.lastIndexOf("/"))}. ${taken.note}`);
      if (taken.table) line.offer(`Begin its row in ${taken.table_title}`, () => void this.#begin(taken), true);
    } catch (fault) {
      line.failed(fault);
    }
  }

  /** Take a file that is no spreadsheet into the study. @param {Arrival} arrival @param {Line} line */
  async #keep(arrival, line) {
    const onSections = document.body.dataset.view === "sections";
    if (arrival.kind !== "picture") {
      await this.#keepAs(arrival, line, "");
      return;
    }
    line.offer("It shows the animal or a mount", () => void this.#keepAs(arrival, line, ""), !onSections);
    line.offer("It shows a cut bone", () => void this.#keepAs(arrival, line, "section"), onSections);
  }

  /** @param {Arrival} arrival @param {Line} line @param {string} use */
  async #keepAs(arrival, line, use) {
    line.clearOffers();
    try {
      const taken = /** @type {Taken} */ (await send("/api/files", { key: arrival.key, use }));
      const where = taken.is_new ? "Now in" : "It was there already:";
      line.kept(`${where} files/${taken.file}. ${taken.note}`);
      if (taken.table) line.offer(`Begin its row in ${taken.table_title}`, () => void this.#begin(taken), true);
      if (arrival.kind === "tree") {
        line.offer("Use it as the tree of relatives", () => void this.#useTree(taken.file, line), true);
      }
    } catch (fault) {
      line.failed(fault);
    }
  }

  /** @param {string} file @param {Line} line */
  async #useTree(file, line) {
    try {
      await send("/api/tree", { file });
      line.clearOffers();
      line.kept(`files/${file} is the tree of relatives now.`);
      this.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
    } catch (fault) {
      line.failed(fault);
    }
  }

  /** Begin a row here, or on the page that has its table. @param {Taken} taken */
  async #begin(taken) {
    const sheet = [...document.querySelectorAll("study-sheet")].find(
      (found) => found instanceof StudySheet && found.name === taken.table,
    );
    this.dialog.close();
    if (sheet instanceof StudySheet) {
      await sheet.begin(taken.cells);
      return;
    }
    const cells = new URLSearchParams(taken.cells);
    location.assign(`/${taken.step}#${taken.table}:new:${encodeURIComponent(cells.toString())}`);
  }

  #imported() {
    this.dispatchEvent(new CustomEvent("sheet-saved", { bubbles: true }));
  }
}

/** One file on its way, and what became of it. */
class Line {
  stop = new AbortController();
  stopped = false;

  /** @param {string} name @param {number} size */
  constructor(name, size) {
    this.element = document.createElement("li");
    this.words = document.createElement("span");
    this.words.textContent = `${name}, ${sizeWords(size)}`;
    this.bar = document.createElement("progress");
    this.bar.max = 1;
    this.bar.value = 0;
    this.bar.setAttribute("aria-label", `${name} sent`);
    this.about = document.createElement("span");
    this.about.className = "quiet";
    this.offers = document.createElement("span");
    this.offers.className = "intake-offers";
    this.element.append(this.words, this.bar, this.about, this.offers);
    this.offer("Stop", () => {
      this.stopped = true;
      this.stop.abort();
      this.bar.remove();
      this.clearOffers();
      this.about.textContent = "stopped";
    });
  }

  /** @param {number} share */
  progress(share) {
    this.bar.value = share;
  }

  /** @param {string} kind @param {Arrival} arrival */
  done(kind, arrival) {
    this.bar.remove();
    this.clearOffers();
    this.about.textContent = `${kind}, SHA-256 ${arrival.checksum.slice(0, 12)}…`;
    this.about.title = arrival.checksum;
  }

  /** @param {string} words */
  kept(words) {
    this.bar.remove();
    this.clearOffers();
    this.about.textContent = words;
  }

  /** @param {unknown} fault */
  failed(fault) {
    this.bar.remove();
    if (this.stopped) return;
    this.clearOffers();
    this.about.textContent = wordsOf(fault);
    this.about.className = "intake-fault";
    this.about.setAttribute("role", "alert");
  }

  /** @param {string} words @param {() => void} act @param {boolean} [first] */
  offer(words, act, first = false) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = words;
    made.addEventListener("click", act);
    if (first) {
      made.classList.add("main-button");
      this.offers.prepend(made);
    } else {
      this.offers.append(made);
    }
  }

  clearOffers() {
    this.offers.replaceChildren();
  }
}

/**
 * @param {string} words @param {boolean} folder
 * @param {(chosen: {file: File, stack: string}[]) => void} take
 */
function picker(words, folder, take) {
  const label = document.createElement("label");
  label.className = "picker";
  const field = document.createElement("input");
  field.type = "file";
  field.multiple = true;
  field.webkitdirectory = folder;
  field.addEventListener("change", () => {
    const chosen = [...(field.files ?? [])].map((file) => ({
      file,
      stack: folder ? stackOf(file.webkitRelativePath) : "",
    }));
    field.value = "";
    take(chosen);
  });
  label.append(words, " ", field);
  return label;
}

/** The folder a file lay in. @param {string} path */
function stackOf(path) {
  return path.split("/").at(-2) ?? "";
}

/**
 * @param {FileSystemEntry} entry @param {string} stack
 * @returns {Promise<{file: File, stack: string}[]>}
 */
async function filesOf(entry, stack) {
  if (entry.isFile) {
    const file = await new Promise((resolve, reject) => {
      /** @type {FileSystemFileEntry} */ (entry).file(resolve, reject);
    });
    return [{ file, stack }];
  }
  const reader = /** @type {FileSystemDirectoryEntry} */ (entry).createReader();
  const found = [];
  for (;;) {
    // A reader gives its entries in pieces, and an empty piece at the end.
    const piece = /** @type {FileSystemEntry[]} */ (
      await new Promise((resolve, reject) => reader.readEntries(resolve, reject))
    );
    if (piece.length === 0) break;
    found.push(...piece);
  }
  return (await Promise.all(found.map((inner) => filesOf(inner, entry.name)))).flat();
}

/** @param {number} bytes */
function sizeWords(bytes) {
  if (bytes < 1e6) return `${Math.max(1, Math.round(bytes / 1e3))} kB`;
  return `${(bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0)} MB`;
}

customElements.define("intake-desk", IntakeDesk);
