// @ts-check
// What the check and the steps have to say of cells: by row, then by column.

/** @typedef {import("./server.js").Table} Table */
/** @typedef {import("./server.js").Row} Row */
/** @typedef {import("./server.js").Problem} Problem */
/** @typedef {import("./server.js").Doubt} Doubt */
/** @typedef {import("./sheet_rows.js").SheetRows} SheetRows */
/** @typedef {{problems: Problem[], doubts: Doubt[]}} Mark */
/** @typedef {Map<Row, Map<number, Mark>>} Marks */

/** The column of what is said of a row as a whole. */
export const WHOLE_ROW = -1;

/**
 * @param {Table} table @param {SheetRows} rows
 * @param {{problem: Problem, row: Row|null}[]} problems each with the row it was found in
 * @param {Doubt[]} doubts
 * @returns {Marks}
 */
export function marksOf(table, rows, problems, doubts) {
  /** @type {Marks} */
  const marks = new Map();
  /** @param {Row} row @param {number} place @returns {Mark} */
  const at = (row, place) => {
    const ofRow = marks.get(row) ?? new Map();
    marks.set(row, ofRow);
    const mark = ofRow.get(place) ?? { problems: [], doubts: [] };
    ofRow.set(place, mark);
    return mark;
  };
  for (const { problem, row } of problems) {
    if (row === null) continue;
    const place = problem.column ? table.header.indexOf(problem.column) : WHOLE_ROW;
    at(row, place).problems.push(problem);
  }
  if (doubts.length === 0) return marks;
  const rowOf = new Map(rows.rows.map((row) => [row.number, row]));
  for (const doubt of doubts) {
    const row = rowOf.get(doubt.row);
    if (!row || doubt.decided !== null) continue;
    const place = table.header.indexOf(doubt.column);
    // A cell corrected since is judged anew once it is saved.
    if (place >= 0 && rows.onDisk(row, place) !== row.cells[place]) continue;
    at(row, place).doubts.push(doubt);
  }
  return marks;
}

/** @param {Problem} problem */
export function problemWords(problem) {
  return `Found ${problem.found}; expected ${problem.expected}. ${problem.mend}`;
}

/** @param {Doubt} doubt */
export function doubtWords(doubt) {
  return `Worth a look (${doubt.kind}): found ${doubt.found}; expected ${doubt.expected}. ${doubt.mend}`;
}

/** Whether two problems are the same fault in two rows. @param {Problem} one @param {Problem} other */
export function isAlike(one, other) {
  return one.column === other.column && one.found === other.found && one.mend === other.mend;
}
