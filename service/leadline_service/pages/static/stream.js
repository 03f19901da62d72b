// Events of a run as they come: a stream that is taken up again where it broke off, or else polling.

import { ask, isPassing, pause, polled, Problem } from "./api.js";

/**
 * An event of a stream: its kind, and its data as read.
 * @typedef {{id: string, kind: string, data: any}} StreamEvent
 */

const AGAIN_MS = 2000;
const LONGEST_MS = 30000;

/**
 * Follow a stream of events to its end, coming back with the number of the last one after every break.
 * @param {string} address
 * @param {AbortSignal} signal
 * @returns {AsyncGenerator<StreamEvent>} ends once the service says that nothing will follow
 */
export async function* followed(address, signal) {
  let last = "";
  let again_ms = AGAIN_MS;
  let breaks = 0;
  while (!signal.aborted) {
    try {
      const headers = { Accept: "text/event-stream", ...(last === "" ? {} : { "Last-Event-ID": last }) };
      const answer = await ask("GET", address, { headers, signal });
      if (answer.status === 204) return;
      for await (const block of blocks(answer)) {
        again_ms = block.retry ?? again_ms;
        if (block.event === null) continue;
        last = block.event.id;
        breaks = 0;
        yield block.event;
      }
    } catch (error) {
      if (signal.aborted) return;
      if (error instanceof Problem && !isPassing(error)) throw error;
      if (error instanceof Problem && error.status === 503) throw error;
      breaks += 1;
    }
    await pause(Math.min(LONGEST_MS, again_ms * 2 ** Math.min(breaks, 4)), signal);
  }
}

/**
 * Follow a run: the run's document, now and whenever something has happened to it.
 * @param {string} address of the run
 * @param {AbortSignal} signal
 * @returns {AsyncGenerator<any>}
 */
export async function* changes(address, signal) {
  try {
    for await (const event of followed(`${address}/events`, signal)) yield event;
  } catch (error) {
    if (!(error instanceof Problem) || error.status !== 503) throw error;
    // All places for streams are taken: asking now and then costs the service less.
    for await (const run of polled(address, signal)) {
      yield { id: "", kind: "run", data: run };
      if (run.ended !== null) return;
    }
  }
}

/**
 * Split a stream into its blocks, as the HTML standard's section on server-sent events says.
 * @param {Response} answer
 * @returns {AsyncGenerator<{event: StreamEvent|null, retry: number|null}>}
 */
async function* blocks(answer) {
  if (answer.body === null) return;
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let held = "";
  try {
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      held = (held + value).replaceAll("\r\n", "\n");
      const parts = held.split("\n\n");
      held = parts.pop() ?? "";
      for (const part of parts) yield block(part);
    }
  } finally {
    reader.cancel().catch(() => {});
  }
}

/** @param {string} text */
function block(text) {
  const fields = { id: "", event: "message", retry: "" };
  /** @type {string[]} */
  const data = [];
  for (const line of text.split("\n")) {
    const [name, value] = halves(line);
    if (name === "data") data.push(value);
    else if (name in fields) fields[/** @type {"id"} */ (name)] = value;
  }
  const event = data.length === 0 ? null : { id: fields.id, kind: fields.event, data: JSON.parse(data.join("\n")) };
  return { event, retry: fields.retry === "" ? null : Number(fields.retry) };
}

/**
 * @param {string} line
 * @returns {[string, string]}
 */
function halves(line) {
  const colon = line.indexOf(":");
  if (colon < 0) return [line, ""];
  return [line.slice(0, colon), line.slice(colon + 1).replace(/^ /, "")];
}
