// A run while it goes on: the chance so far with its narrowing interval, the rate, the time left.

import { announce, byId } from "./elements.js";
import { chance, count, duration, interval, share } from "./numbers.js";

/**
 * How the chance stood after some cases.
 * @typedef {{cases: number, value: number, low: number, high: number}} Stand
 */

const STAGES = new Map([["chance", "the chance"], ["drivers", "drivers"], ["rare", "rare failures"], ["files", "the report and the files"]]);
const SPOKEN_EVERY_MS = 5000;
/** Stands drawn; more are thinned, the newest kept. */
const MOST = 240;

/** Shows how a run stands. */
export class Watch {
  /** @param {import("./figures.js").Figures} figures */
  constructor(figures) {
    this.figures = figures;
    /** @type {Stand[]} */
    this.stands = [];
    this.spoke = 0;
  }

  /** @param {any} progress as the run has it */
  show(progress) {
    const { cases, wanted, rate_per_s: rate, left_s: left, answer, chance: sofar } = progress;
    const counts = answer === "chance";
    put("watch-answer", answer === null ? "" : `Now: ${stage(answer)}.`);
    put("watch-cases", wanted > 0 ? `${count(cases)} of ${count(wanted)} ${counts ? "cases" : "steps"}` : counts ? `${count(cases)} cases` : "");
    put("watch-rate", rate > 0 && counts ? `· ${count(rate)} cases a second` : "");
    put("watch-left", left === null ? "" : `· about ${duration(left)} left`);
    const bar = byId("watch-progress");
    if (bar !== null && wanted > 0) Object.assign(bar, { max: wanted, value: cases });
    if (sofar !== null && sofar !== undefined) this.stand(cases, sofar, counts);
  }

  /**
   * @private
   * @param {number} cases
   * @param {any} sofar
   * @param {boolean} counts
   */
  stand(cases, sofar, counts) {
    put("watch-chance", share(sofar.value));
    put("watch-interval", interval(sofar));
    const place = byId("watch-figure");
    if (counts && (this.stands.at(-1)?.cases ?? 0) < cases) {
      this.stands.push({ cases, value: sofar.value, low: sofar.low, high: sofar.high });
      if (this.stands.length > MOST) this.stands = this.stands.filter((_, position) => position % 2 === 0 || position === this.stands.length - 1);
      if (place !== null) this.figures.show(place, narrowing(this.stands, Number(place.dataset.height ?? 220)));
    }
    const words = `The chance is ${chance(sofar)} after ${count(cases)} cases.`;
    place?.setAttribute("aria-label", `The chance as cases are added, with its interval. ${words}`);
    const now = Date.now();
    if (now - this.spoke < SPOKEN_EVERY_MS) return;
    this.spoke = now;
    announce(byId("announce"), words);
  }
}

/**
 * Draw the chance over cases, its interval as a band.
 * @param {Stand[]} stands
 * @param {number} height
 */
export function narrowing(stands, height) {
  const x = stands.map((one) => one.cases);
  const ends = (/** @type {"low"|"high"} */ end) => stands.map((one) => 100 * one[end]);
  const line = (/** @type {number[]} */ y, /** @type {any} */ more) => ({ type: "scatter", mode: stands.length === 1 ? "markers" : "lines", x, y, hoverinfo: "skip", ...more });
  const late = stands.slice(Math.floor(stands.length / 4));
  const [least, most] = [Math.min(...late.map((one) => one.low)), Math.max(...late.map((one) => one.high))];
  const room = 0.15 * Math.max(most - least, 1e-4);
  const axis = { showline: true, mirror: "ticks", ticks: "inside", ticklen: 4, linecolor: "@ink", tickcolor: "@ink", linewidth: 1, showgrid: false, zeroline: false, fixedrange: true, automargin: true };
  const font = { family: "'Avenir Next', Avenir, 'Segoe UI', 'Noto Sans', 'Helvetica Neue', Arial, sans-serif", size: 12, color: "@ink" };
  return {
    data: [
      line(ends("low"), { line: { width: 1, color: "@blue" }, marker: { color: "@blue", symbol: "line-ew-open", size: 8 } }),
      line(ends("high"), { line: { width: 1, color: "@blue" }, marker: { color: "@blue", symbol: "line-ew-open", size: 8 }, fill: "tonexty", fillcolor: "@blue-wash" }),
      line(stands.map((one) => 100 * one.value), { line: { width: 2, color: "@ink" }, marker: { color: "@ink", size: 6 } }),
    ],
    layout: {
      height, font, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", margin: { l: 8, r: 14, t: 10, b: 8 }, showlegend: false, dragmode: false,
      xaxis: { ...axis, title: { text: "cases", standoff: 8, font: { size: 12 } }, range: [0, 1.03 * x[x.length - 1]], nticks: 6, tickformat: ",d" },
      yaxis: { ...axis, title: { text: "chance, %", standoff: 8, font: { size: 12 } }, range: [100 * Math.max(-0.01, least - room), 100 * Math.min(1.01, most + room)], nticks: 5 },
      separators: ".\u202f",
    },
  };
}

/** @param {string} answer */
function stage(answer) {
  const [kind, number] = answer.split("-");
  return STAGES.get(answer) ?? `${kind}${number === undefined ? "" : ` ${number}`}`;
}

/**
 * @param {string} id
 * @param {string} text
 */
function put(id, text) {
  const place = byId(id);
  if (place !== null && place.textContent !== text) place.textContent = text;
}
