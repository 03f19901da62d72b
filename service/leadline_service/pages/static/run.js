// The screen of a run: watched while it goes on, its result once it has ended.

import { post, read, sentenceOf } from "./api.js";
import { announce, byId } from "./elements.js";
import { drawn, Figures } from "./figures.js";
import { countOf } from "./numbers.js";
import { fetched, takeOver } from "./rows.js";
import { changes } from "./stream.js";
import { Watch } from "./watch.js";

const main = byId("main");
const { run, kind } = main.dataset;
const address = `/v1/runs/${run}`;
const ENDED = new Set(["finished", "failed", "cancelled"]);

if (byId("watch") !== null) void watch();
else void result();
on("cancel", "click", cancel);
on("extend", "click", extend);
on("extend-form", "submit", extend);
on("case-form", "submit", ledger);

/** Follow the run to its end, then show what came out. */
async function watch() {
  const leaving = new AbortController();
  addEventListener("pagehide", () => leaving.abort(), { once: true });
  const seen = new Watch(new Figures());
  try {
    for await (const event of changes(address, leaving.signal)) {
      const progress = event.kind === "progress" ? event.data : event.data.progress;
      if (progress) seen.show(progress);
      if (event.data.state !== undefined) main.dataset.state = event.data.state;
      if (ENDED.has(event.data.state)) break;
    }
  } catch (error) {
    tell(sentenceOf(error));
    return;
  }
  if (!leaving.signal.aborted) location.reload();
}

/** Draw the figures of the result. */
async function result() {
  if (kind === "" || document.querySelector(".drawing[data-figure]") === null) return;
  try {
    const figures = drawn(await read(`${address}/figures`));
    await figures.rest();
  } catch (error) {
    tell(`The figures cannot be drawn; “The numbers” under each says the same. ${sentenceOf(error)}`);
  }
}

/** Stop the run, and keep what is done. */
async function cancel() {
  byId("cancel").disabled = true;
  try {
    await post(`${address}/cancel`, undefined);
    announce(byId("announce"), "It stops, and keeps the cases done.");
  } catch (error) {
    byId("cancel").disabled = false;
    tell(sentenceOf(error));
  }
}

/** @param {Event} event */
async function extend(event) {
  event.preventDefault();
  const input = byId("extend-cases");
  const cases = countOf(input.value);
  input.setAttribute("aria-invalid", String(cases === null || cases < 1));
  if (cases === null || cases < 1) {
    input.focus();
    return tell("Cases to add is a whole number, such as 100000.");
  }
  byId("extend").disabled = true;
  try {
    const made = await post(`${address}/extend`, { cases });
    location.assign(`/runs/${made.run_id}`);
  } catch (error) {
    byId("extend").disabled = false;
    tell(sentenceOf(error));
  }
}

/**
 * Show a case's ledger without loading the page anew.
 * @param {Event} event
 */
async function ledger(event) {
  event.preventDefault();
  const input = byId("case-number");
  const wanted = countOf(input.value);
  input.setAttribute("aria-invalid", String(wanted === null));
  if (wanted === null) {
    input.focus();
    return tell("A case has a whole number, from 0.");
  }
  try {
    const here = `/runs/${run}?case=${wanted}`;
    takeOver(await fetched(here), "case-ledger");
    history.replaceState(null, "", `${here}#h-case`);
    tell("");
    announce(byId("announce"), `The ledger of case ${wanted} is shown.`);
  } catch (error) {
    tell(sentenceOf(error));
  }
}

/**
 * @param {string} id
 * @param {string} kindOfEvent
 * @param {(event: Event) => void} heard
 */
function on(id, kindOfEvent, heard) {
  byId(id)?.addEventListener(kindOfEvent, heard);
}

/** @param {string} text */
function tell(text) {
  announce(byId("problem"), text);
}
