// @ts-check
// The changes a person makes in a sheet, as changes of its rows: paste, fill, number on,
// empty, insert, delete, mend. Each is one step that one undo takes back.

import { fitted } from "./clipboard.js";

/** @typedef {import("./server.js").Table} Table */
/** @typedef {import("./server.js").Row} Row */
/** @typedef {import("./sheet_rows.js").Change} Change */
/** @typedef {import("./sheet_rows.js").CellChange} CellChange */
/** @typedef {import("./sheet_rows.js").SheetRows} SheetRows */
/** @typedef {import("./sheet_order.js").SheetOrder} SheetOrder */
/** @typedef {import("./sheet_selection.js").Block} Block */

const COUNTED_END = /^(.*?)(\d+)(\D*)$/s;

/**
 * Paste a block with its first cell at the start of the block selected. One cell fills the
 * whole of it, and so does a block that fits into it a whole number of times.
 * @param {Table} table @param {SheetRows} rows @param {SheetOrder} order
 * @param {Block} selected @param {string[][]} pasted
 */
export function pasteChange(table, rows, order, selected, pasted) {
  const { block, places, commas } = fitted(pasted, table.columns, selected.start, table.decimal_mark);
  const width = table.header.length;
  const height = repeated(block.length, selected.bottom - selected.top + 1);
  const widest = Math.max(...block.map((line) => line.length), 0);
  const across = places ? widest : repeated(widest, selected.end - selected.start + 1);
  /** @type {CellChange[]} */
  const cells = [];
  const inserted = [];
  let cut = 0;
  for (let down = 0; down < height; down += 1) {
    const line = block[down % block.length];
    let row = order.shown[selected.top + down];
    if (!row) {
      row = { number: null, cells: table.header.map(() => "") };
      inserted.push({ index: rows.rows.length + inserted.length, row });
    }
    for (let step = 0; step < across; step += 1) {
      const to = line[step % widest];
      if (to === undefined) continue;
      const place = places ? places[step] : selected.start + step;
      if (place >= width) {
        if (to !== "") cut += 1;
      } else if (row.cells[place] !== to) cells.push({ row, place, from: row.cells[place], to });
    }
  }
  const bottom = selected.top + height - 1;
  const end = places ? width - 1 : Math.min(width, selected.start + across) - 1;
  return {
    change: { label: "paste", cells, inserted },
    area: { top: selected.top, bottom, start: places ? 0 : selected.start, end },
    words: [
      commas ? `${commas} decimal ${commas === 1 ? "comma" : "commas"} written as points, as this file has them.` : "",
      places ? "The first line named the columns." : "",
      cut ? `${cut} ${cut === 1 ? "cell" : "cells"} beyond the last column left out.` : "",
    ].filter(Boolean).join(" "),
  };
}

/** @param {number} length @param {number} room */
function repeated(length, room) {
  return length > 0 && room > length && room % length === 0 ? room : length;
}

/**
 * Copy the first line of a block down, or its first column to the right.
 * @param {SheetOrder} order @param {Block} block @param {"down"|"right"} way
 */
export function fillChange(order, block, way) {
  return changeOf(order, block, `fill ${way}`, (line, place) => {
    const from = way === "down" ? block.top : line;
    return order.shown[from].cells[way === "down" ? place : block.start];
  });
}

/**
 * Repeat a block over a larger one.
 * @param {SheetOrder} order @param {Block} block @param {Block} over
 */
export function repeatChange(order, block, over) {
  const source = order.shown.slice(block.top, block.bottom + 1).map((row) => row.cells);
  const across = block.end - block.start + 1;
  return changeOf(order, over, "fill", (line, place) => {
    const down = modulo(line - block.top, source.length);
    return source[down][block.start + modulo(place - block.start, across)];
  });
}

/**
 * Number on from the first line of a block: bone-7, bone-8, bone-9.
 * @param {SheetOrder} order @param {Block} block
 */
export function numberChange(order, block) {
  return changeOf(order, block, "number on", (line, place) => {
    const first = order.shown[block.top].cells[place];
    const found = COUNTED_END.exec(first);
    if (!found) return first;
    const count = String(BigInt(found[2]) + BigInt(line - block.top));
    return `${found[1]}${count.padStart(found[2].length, "0")}${found[3]}`;
  });
}

/** @param {SheetOrder} order @param {Block} block */
export function emptyChange(order, block) {
  return changeOf(order, block, "empty", () => "");
}

/**
 * @param {SheetOrder} order @param {Block} block @param {string} label
 * @param {(line: number, place: number) => string} textOf
 */
function changeOf(order, block, label, textOf) {
  /** @type {CellChange[]} */
  const cells = [];
  for (let line = block.top; line <= block.bottom; line += 1) {
    const row = order.shown[line];
    if (!row) continue;
    for (let place = block.start; place <= block.end; place += 1) {
      const to = textOf(line, place);
      if (row.cells[place] !== to) cells.push({ row, place, from: row.cells[place], to });
    }
  }
  return { label, cells };
}

/**
 * @param {SheetRows} rows @param {SheetOrder} order @param {Block} block
 */
export function deleteChange(rows, order, block) {
  const leaving = new Set(order.shown.slice(block.top, block.bottom + 1));
  const removed = [];
  for (const [index, row] of rows.rows.entries()) if (leaving.has(row)) removed.push({ index, row });
  return { label: removed.length === 1 ? "delete a row" : `delete ${removed.length} rows`, removed };
}

/** @param {number} number @param {number} by */
function modulo(number, by) {
  return ((number % by) + by) % by;
}
