// @ts-check
// Blocks of cells between the page and a spreadsheet, as tab-separated text.

/** @typedef {import("./server.js").Column} Column */
/** @typedef {{block: string[][], places: number[]|null, commas: number}} Pasted */

// Loaded by the page as a script of its own; the package is no module.
const { Papa } = /** @type {any} */ (globalThis);
const DECIMAL_COMMA = /^[+\-−]?\d+,\d+$/;
const DECIMAL_POINT = /^[+\-−]?\d*\.\d+$/;
const MAYBE_THOUSANDS = /^[+\-−]?[1-9]\d{0,2},\d{3}$/;

/** Read text as a spreadsheet puts it on the clipboard. @param {string} text */
export function blockOf(text) {
  const plain = text.replace(/\r\n?/g, "\n").replace(/\n$/, "");
  if (!/[\t\n]/.test(plain)) return [[plain]];
  const read = Papa.parse(plain, { delimiter: "\t", newline: "\n" });
  // A cell that merely begins with a quotation mark is not a quoted one.
  if (read.errors.some((/** @type {{type: string}} */ fault) => fault.type === "Quotes")) {
    return plain.split("\n").map((line) => line.split("\t"));
  }
  return /** @type {string[][]} */ (read.data);
}

/** Write cells as a spreadsheet reads them. @param {readonly (readonly string[])[]} block */
export function textOf(block) {
  return Papa.unparse(block, { delimiter: "\t", newline: "\n" });
}

/** Write cells as a table for a text document. @param {readonly (readonly string[])[]} block */
export function tableOf(block) {
  const table = document.createElement("table");
  for (const row of block) {
    const line = table.insertRow();
    for (const cell of row) line.insertCell().textContent = cell;
  }
  return table.outerHTML;
}

/**
 * Make a pasted block fit the sheet: a first line that names columns says where the others
 * go, and decimal commas become points where the file has points.
 * @param {string[][]} block @param {Column[]} columns
 * @param {number} start first column pasted into
 * @param {string|null} mark how the file writes decimals
 * @returns {Pasted}
 */
export function fitted(block, columns, start, mark) {
  const places = namedPlaces(block, columns);
  const body = places ? block.slice(1) : block;
  /** @param {number} across */
  const isNumber = (across) => {
    const kind = columns[places ? places[across] : start + across]?.kind;
    return kind === "number" || kind === "integer";
  };
  const numbers = body.flatMap((row) => row.filter((_, across) => isNumber(across)));
  const commas = numbers.filter((cell) => DECIMAL_COMMA.test(cell.trim()));
  const certain =
    mark === "." &&
    commas.some((cell) => !MAYBE_THOUSANDS.test(cell.trim())) &&
    !numbers.some((cell) => DECIMAL_POINT.test(cell.trim()));
  if (!certain) return { block: body, places, commas: 0 };
  const written = body.map((row) =>
    row.map((cell, across) =>
      isNumber(across) && DECIMAL_COMMA.test(cell.trim()) ? cell.trim().replace(",", ".") : cell,
    ),
  );
  return { block: written, places, commas: commas.length };
}

/** @param {string[][]} block @param {Column[]} columns @returns {number[]|null} */
function namedPlaces(block, columns) {
  if (block.length < 2 || block[0].length < 2) return null;
  const places = block[0].map((words) => {
    const plain = words.trim().replace(/\s*\*$/, "").toLowerCase();
    if (plain === "") return -1;
    return columns.findIndex(
      (column) => column.name.toLowerCase() === plain || column.title.toLowerCase() === plain,
    );
  });
  return places.every((place) => place >= 0) ? places : null;
}
