// @ts-check
// Talking to the page's own server. Every answer that is not a success becomes a Refused.

/**
 * @typedef {{file: string, table: string|null, row: number|null, index: number|null,
 *   column: string|null, found: string, expected: string, mend: string,
 *   instead: string[], keep: string, sentence: string}} Problem
 * @typedef {{name: string, title: string, description: string, kind: string,
 *   required: boolean, example: string, choices: string[], refers_to: string|null}} Column
 * @typedef {{number: number|null, cells: readonly string[]}} Row
 * @typedef {{name: string, title: string, description: string, key: string, version: string,
 *   header: string[], columns: Column[], rows: Row[],
 *   suggestions: Record<string, string[]>, locked: string, decimal_mark: string|null,
 *   problems: Problem[], doubts: Doubt[]}} Table
 * @typedef {{row: number, row_id: string, column: string, kind: string, found: string,
 *   expected: string, mend: string, held_out: boolean, decided: string|null}} Doubt
 * @typedef {{study: string, number: number, computing: boolean, stale: boolean, headline: string,
 *   problems: number, doubts: number, versions: Record<string, string>, stopped: boolean,
 *   progress: {title: string, done: number, of: number},
 *   arrived: string[], views: Record<string, string>,
 *   errands: {number: number, state: string, doing: string, done: number, of: number}[]}} State
 */

/** An answer of the server that says no, in words fit to show. */
export class Refused extends Error {
  /** @param {number} status @param {any} body */
  constructor(status, body) {
    super(`${body.error} ${body.remedy}`);
    this.status = status;
    this.body = body;
  }
}

/**
 * @param {string} address
 * @param {RequestInit} [options]
 * @returns {Promise<any>}
 */
async function ask(address, options) {
  let response;
  try {
    response = await fetch(address, options);
  } catch (fault) {
    if (fault instanceof DOMException && fault.name === "AbortError") throw fault;
    throw new Refused(0, {
      error: "The page's server does not answer.",
      remedy: "Start it again; what you typed stays here as long as this page is open.",
      problems: [],
    });
  }
  const body = await response.json().catch(() => ({
    error: "The answer could not be read.",
    remedy: "Reload the page.",
    problems: [],
  }));
  if (!response.ok) throw new Refused(response.status, body);
  return body;
}

/** @param {string} address @returns {Promise<any>} */
export function read(address) {
  return ask(address, { headers: studyMark() });
}

/** Which study this page shows, so that it never reaches into another. */
function studyMark() {
  const mark = document.body.dataset.study;
  return mark ? { "x-bonewright-study": mark } : undefined;
}

/**
 * @param {string} address
 * @param {unknown} message
 * @param {AbortSignal} [signal]
 * @returns {Promise<any>}
 */
export function send(address, message, signal) {
  return ask(address, {
    method: "POST",
    headers: { "content-type": "application/json", "x-bonewright-page": "1", ...studyMark() },
    body: JSON.stringify(message),
    signal,
  });
}

/**
 * Send a file, saying how far it is.
 * @param {File} file @param {string} stack the folder it came in, if it is a slice of a stack
 * @param {(share: number) => void} onProgress @param {AbortSignal} signal
 * @returns {Promise<any>}
 */
export function sendFile(file, stack, onProgress, signal) {
  return new Promise((resolve, reject) => {
    // The newer way of asking does not say how much of a body has gone.
    const request = new XMLHttpRequest();
    request.open("POST", "/api/incoming");
    request.responseType = "json";
    const headers = {
      "content-type": "application/octet-stream",
      "x-bonewright-page": "1",
      "x-file-name": encodeURIComponent(file.name),
      "x-file-stack": encodeURIComponent(stack),
      ...studyMark(),
    };
    for (const [name, value] of Object.entries(headers)) request.setRequestHeader(name, value);
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable) onProgress(event.loaded / event.total);
    });
    request.addEventListener("load", () => {
      const body = request.response ?? { error: "The answer could not be read.", remedy: "Try again.", problems: [] };
      if (request.status === 200) resolve(body);
      else reject(new Refused(request.status, body));
    });
    request.addEventListener("error", () => {
      reject(new Refused(0, { error: `${file.name} could not be sent.`, remedy: "See that the page's server runs, and choose the file again." }));
    });
    request.addEventListener("abort", () => reject(new DOMException("Stopped", "AbortError")));
    signal.addEventListener("abort", () => request.abort());
    request.send(file);
  });
}

/** What went wrong, in words fit to show. @param {unknown} fault */
export function wordsOf(fault) {
  return fault instanceof Error ? fault.message : String(fault);
}
