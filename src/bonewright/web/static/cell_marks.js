// @ts-check
// What the check and the steps have to say of cells, by place: "row index:column index".

/** @typedef {import("./server.js").Table} Table */
/** @typedef {import("./server.js").Problem} Problem */
/** @typedef {import("./server.js").Doubt} Doubt */
/** @typedef {import("./sheet_rows.js").SheetRows} SheetRows */
/** @typedef {{problems: string[], doubts: string[]}} Mark */

/**
 * Column index -1 is the row as a whole.
 * @param {Table} table @param {SheetRows} rows
 * @param {Problem[]} problems @param {Doubt[]} doubts
 * @returns {Map<string, Mark>}
 */
export function marksOf(table, rows, problems, doubts) {
  /** @type {Map<string, Mark>} */
  const marks = new Map();
  /** @param {number} index @param {number} place */
  const at = (index, place) => {
    const name = `${index}:${place}`;
    const mark = marks.get(name) ?? { problems: [], doubts: [] };
    marks.set(name, mark);
    return mark;
  };
  for (const problem of problems) {
    if (problem.index === null) continue;
    const place = problem.column ? table.header.indexOf(problem.column) : -1;
    at(problem.index, place).problems.push(
      `Found ${problem.found}; expected ${problem.expected}. ${problem.mend}`,
    );
  }
  const indexOf = new Map(rows.rows.map((row, index) => [row.number, index]));
  for (const doubt of doubts) {
    const index = indexOf.get(doubt.row);
    if (index === undefined || doubt.decided !== null) continue;
    const place = table.header.indexOf(doubt.column);
    // A cell corrected since is judged anew once it is saved.
    if (place >= 0 && rows.onDisk(index, place) !== rows.rows[index].cells[place]) continue;
    at(index, place).doubts.push(
      `Worth a look (${doubt.kind}): found ${doubt.found}; expected ${doubt.expected}. ${doubt.mend}`,
    );
  }
  return marks;
}
