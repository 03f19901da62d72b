// Runs, or the options of one, side by side.

import { read, sentenceOf } from "./api.js";
import { announce, byId } from "./elements.js";
import { drawn, Figures } from "./figures.js";
import { share } from "./numbers.js";

/** @typedef {{name: string, low: number, value: number, high: number}} Row */

const { runs, kind } = byId("main").dataset;

try {
  await (kind === "comparison" ? comparison() : beside());
} catch (error) {
  announce(byId("problem"), `The figures cannot be drawn; the tables say the same. ${sentenceOf(error)}`);
}

/** Draw the figures of a run that compared options. */
async function comparison() {
  await drawn(await read(`/v1/runs/${runs}/figures`)).rest();
}

/** Draw the chance of each run with its interval. */
async function beside() {
  const place = byId("beside-figure");
  if (place === null) return;
  const found = await Promise.all(runs.split(",").map((/** @type {string} */ run) => read(`/v1/runs/${run}`)));
  const names = [...byId("beside").tBodies[0].rows].map((/** @type {HTMLTableRowElement} */ row) => row.cells[0].textContent.trim());
  const rows = found.flatMap((run, position) => {
    const chance = run.outcome?.chance ?? run.progress?.chance;
    return chance ? [{ name: `${position + 1}. ${clipped(names[position] ?? "")}`, ...chance }] : [];
  });
  if (rows.length === 0) return void (place.hidden = true);
  const said = rows.map((row) => `${row.name}: ${share(row.value)}`).join("; ");
  place.setAttribute("aria-label", `The chance of each run with its interval. ${said}.`);
  const figures = new Figures();
  figures.show(place, intervals(rows, Number(place.dataset.height)));
  await figures.rest();
}

/**
 * A ring for each chance, a bar through it for its interval.
 * @param {Row[]} rows
 * @param {number} height
 */
function intervals(rows, height) {
  const y = rows.map((_, position) => -position);
  const axis = { showline: true, mirror: true, ticks: "inside", ticklen: 4, linecolor: "@ink", tickcolor: "@ink", linewidth: 1, showgrid: false, zeroline: false, fixedrange: true, automargin: true };
  const font = { family: "'Avenir Next', Avenir, 'Segoe UI', 'Noto Sans', 'Helvetica Neue', Arial, sans-serif", size: 12, color: "@ink" };
  const [least, most] = [Math.min(...rows.map((row) => row.low)), Math.max(...rows.map((row) => row.high))];
  const room = Math.max(0.15 * (most - least), 0.002);
  const ends = rows.flatMap((row, position) => [[100 * row.low, -position], [100 * row.high, -position], [null, null]]);
  return {
    data: [
      { type: "scatter", mode: "lines", x: ends.map(([x]) => x), y: ends.map(([, at]) => at), line: { width: 3, color: "@ink" }, hoverinfo: "skip" },
      { type: "scatter", mode: "markers", x: rows.map((row) => 100 * row.value), y, hoverinfo: "x", marker: { size: 10, color: "@paper", line: { width: 2, color: "@ink" } } },
    ],
    layout: {
      height, font, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", margin: { l: 8, r: 14, t: 10, b: 8 }, showlegend: false, dragmode: false,
      hoverlabel: { bgcolor: "@paper", bordercolor: "@ink", font },
      xaxis: { ...axis, title: { text: "chance, %", standoff: 8, font: { size: 12 } }, range: [100 * (least - room), 100 * (most + room)], nticks: 6 },
      yaxis: { ...axis, ticks: "", tickvals: y, ticktext: rows.map((row) => escaped(row.name)), range: [0.6 - rows.length, 0.6] },
    },
  };
}

/** @param {string} text */
function clipped(text) {
  const letters = [...text.replace(/\s+/g, " ")];
  return letters.length > 32 ? `${letters.slice(0, 31).join("")}…` : letters.join("");
}

/**
 * The drawing library reads markup in its texts.
 * @param {string} text
 */
function escaped(text) {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
}
