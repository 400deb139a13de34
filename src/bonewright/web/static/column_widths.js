// @ts-check
// How wide each column of a grid is: fitted to its title and to what stands in it.

/** @typedef {import("./server.js").Table} Table */

const SAMPLE = 240;
const FEWEST_PX = 64;
const MOST_PX = 320;
const ROOM_PX = 28;

/**
 * Widths in px, that of the row numbers first.
 * @param {Table} table @param {HTMLElement} near an element whose letters are measured
 */
export function columnWidths(table, near) {
  const pen = /** @type {CanvasRenderingContext2D} */ (document.createElement("canvas").getContext("2d"));
  const { fontFamily, fontSize } = getComputedStyle(near.isConnected ? near : document.body);
  const size = parseFloat(fontSize);
  pen.font = `600 ${size}px ${fontFamily}`;
  const titles = table.columns.map((column) => pen.measureText(`${column.title} *`).width);
  pen.font = `${size * 0.8}px monospace`;
  const names = table.columns.map((column) => pen.measureText(column.name).width);
  pen.font = `${size}px ${fontFamily}`;
  const step = Math.max(1, Math.floor(table.rows.length / SAMPLE));
  const cells = table.columns.map((_, place) => {
    let widest = 0;
    for (let index = 0; index < table.rows.length; index += step) {
      const text = table.rows[index].cells[place];
      if (text) widest = Math.max(widest, pen.measureText(text.slice(0, 60)).width);
    }
    return widest;
  });
  const fitted = table.columns.map((_, place) => {
    const wanted = Math.max(titles[place], names[place], cells[place]) + ROOM_PX;
    return Math.round(Math.min(MOST_PX, Math.max(FEWEST_PX, wanted)));
  });
  const digits = String(table.rows.length + 1).length;
  return [Math.round(Math.max(digits, 4) * size * 0.62 + 18), ...fitted];
}
