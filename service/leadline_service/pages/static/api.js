// The service's own interface: requests, and problems told in sentences.

/**
 * One thing wrong with a request, as a problem document lists it.
 * @typedef {{pointer?: string, parameter?: string, code: string, detail: string, line?: number, column?: number}} Flaw
 */

/** Something the service refused, or that did not reach it, with the sentence to show. */
export class Problem extends Error {
  /**
   * @param {string} sentence
   * @param {{status?: number, flaws?: Flaw[], retry_s?: number|null}} [more] status 0: no answer came
   */
  constructor(sentence, { status = 0, flaws = [], retry_s = null } = {}) {
    super(sentence);
    this.name = "Problem";
    this.status = status;
    this.flaws = flaws;
    this.retry_s = retry_s;
  }
}

/**
 * What is sent: JSON, or a text with its media type.
 * @typedef {{json?: any, text?: string, type?: string, headers?: Record<string, string>, signal?: AbortSignal}} Sent
 */

/**
 * Ask the service, and wait for its answer.
 * @param {string} method
 * @param {string} address
 * @param {Sent} [sent]
 * @returns {Promise<Response>} of a status below 400
 */
export async function ask(method, address, sent = {}) {
  const { json, text, type = "application/yaml", headers = {}, signal } = sent;
  const body = json === undefined ? text : JSON.stringify(json);
  const media = json === undefined ? type : "application/json";
  const typed = body === undefined ? headers : { "Content-Type": media, ...headers };
  const answer = await fetched(address, { method, body, headers: typed, signal, credentials: "same-origin" });
  if (answer.ok || answer.status === 304) return answer;
  throw await problemOf(answer);
}

/**
 * Read a JSON document.
 * @param {string} address
 * @param {Sent} [sent]
 * @returns {Promise<any>}
 */
export async function read(address, sent = {}) {
  return (await ask("GET", address, sent)).json();
}

/**
 * Send a JSON document and read the one that answers.
 * @param {string} address
 * @param {any} json
 * @param {Sent} [sent]
 * @returns {Promise<any>}
 */
export async function post(address, json, sent = {}) {
  return (await ask("POST", address, { ...sent, json })).json();
}

/**
 * Send a study's text and read what is said of it.
 * @param {string} method
 * @param {string} address
 * @param {string} text
 * @returns {Promise<any>}
 */
export async function send(method, address, text) {
  return (await ask(method, address, { text })).json();
}

/**
 * Ask again and again for a document, as often as it wants to be asked for, and only for news.
 * @param {string} address
 * @param {AbortSignal} signal
 * @returns {AsyncGenerator<any>} the document whenever it has changed
 */
export async function* polled(address, signal) {
  let tag = "";
  while (!signal.aborted) {
    let wait_s = 2;
    try {
      const answer = await ask("GET", address, { signal, headers: tag === "" ? {} : { "If-None-Match": tag } });
      wait_s = seconds(answer.headers.get("Retry-After")) ?? 2;
      tag = answer.headers.get("ETag") ?? "";
      if (answer.status !== 304) yield await answer.json();
    } catch (error) {
      if (!(error instanceof Problem) || !isPassing(error)) throw error;
      wait_s = error.retry_s ?? 5;
    }
    await pause(wait_s * 1000, signal);
  }
}

/**
 * Tell whether a problem may be gone the next time.
 * @param {Problem} problem
 */
export function isPassing(problem) {
  return problem.status === 0 || problem.status === 429 || problem.status >= 500;
}

/**
 * Put a problem into one text: its sentence, then what is wrong where.
 * @param {unknown} error
 * @returns {string}
 */
export function sentenceOf(error) {
  if (!(error instanceof Problem)) return "Something went wrong in this page. Load it again; what you wrote is kept.";
  const flaws = error.flaws.map((flaw) => `${placeOf(flaw)}${flaw.detail}`);
  return [...new Set([...(flaws.length > 0 ? [] : [error.message]), ...flaws])].join(" ");
}

/**
 * Wait, unless it is called off.
 * @param {number} time_ms
 * @param {AbortSignal} [signal]
 * @returns {Promise<void>}
 */
export function pause(time_ms, signal) {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, time_ms);
    signal?.addEventListener("abort", () => (clearTimeout(timer), resolve()), { once: true });
  });
}

/**
 * Take a pointer into a study apart, as a fragment such as `#/legs/2/cost`.
 * @param {string|undefined} pointer
 * @returns {string[]}
 */
export function stepsOf(pointer) {
  if (!pointer || !pointer.startsWith("#/")) return [];
  const unescaped = (/** @type {string} */ step) => decoded(step).replaceAll("~1", "/").replaceAll("~0", "~");
  return pointer.slice(2).split("/").map(unescaped);
}

/** @param {string} step */
function decoded(step) {
  try {
    return decodeURIComponent(step);
  } catch {
    return step;
  }
}

/**
 * Fetch, and once more where no answer came at all: a connection may just have gone. Every request of the pages may be
 * made twice, as the service finds the same run, text or name again.
 * @param {string} address
 * @param {RequestInit} how
 * @returns {Promise<Response>}
 */
async function fetched(address, how) {
  for (const wait_ms of [300, null]) {
    try {
      return await fetch(address, how);
    } catch (error) {
      if (how.signal?.aborted) throw error;
      if (wait_ms !== null) await pause(wait_ms, how.signal ?? undefined);
    }
  }
  throw new Problem("The service cannot be reached. What you wrote is kept here; try again shortly.");
}

/**
 * @param {Response} answer
 * @returns {Promise<Problem>}
 */
async function problemOf(answer) {
  const told = (answer.headers.get("Content-Type") ?? "").startsWith("application/problem+json");
  const document = told ? await answer.json().catch(() => ({})) : {};
  const sentence = document.detail ?? `The service answered ${answer.status} and did not say why.`;
  const retry_s = seconds(answer.headers.get("Retry-After"));
  return new Problem(sentence, { status: answer.status, flaws: document.errors ?? [], retry_s });
}

/** @param {Flaw} flaw */
function placeOf(flaw) {
  if (flaw.line) return `Line ${flaw.line}: `;
  const steps = stepsOf(flaw.pointer);
  return steps.length === 0 ? "" : `${(steps.length > 1 ? steps.slice(1) : steps).join(", ")}: `;
}

/**
 * @param {string|null} header
 * @returns {number|null}
 */
function seconds(header) {
  const value = Number(header);
  return header === null || !Number.isFinite(value) ? null : value;
}
