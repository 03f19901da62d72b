// Small pictures drawn straight into the page: a margin's spread before and after a change, quick enough for every key.

import { amount, share } from "./numbers.js";

/** @typedef {{quantiles: {p: number, value: number}[], histogram: {start: number, width: number, counts: number[]}}} Margin */
/** @typedef {{name: string, unit: string, chance: {value: number}, base: {value: number}|null, margin: Margin|null, base_margin: Margin|null}} Tried */

const SVG = "http://www.w3.org/2000/svg";
const [HIGH, FOOT] = [128, 22];
let patterns = 0;

/**
 * Draw a requirement's margin: as it is with the change, filled, and as it was, in outline; hatched where it fails.
 * @param {Tried} tried
 * @param {number} wide of the picture, in CSS pixels
 * @returns {SVGElement|null} null where there is nothing to draw
 */
export function marginPicture(tried, wide) {
  const own = tried.margin;
  if (own === null) return null;
  const both = [own, tried.base_margin].filter((one) => one !== null);
  const [low, high] = span(both.map((one) => one.histogram));
  if (!(high > low)) return null;
  const top = Math.max(...both.flatMap((one) => densities(one.histogram)));
  const x = (/** @type {number} */ value) => ((value - low) / (high - low)) * wide;
  const y = (/** @type {number} */ density) => (HIGH - FOOT) * (1 - (0.92 * density) / top);
  patterns += 1;
  const hatch = `hatch-${patterns}`;
  return drawn("svg", { viewBox: `0 0 ${wide} ${HIGH}`, class: "margin-picture", role: "img", "aria-label": saying(tried) },
    drawn("defs", {}, drawn("pattern", { id: hatch, width: 5, height: 5, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, drawn("rect", { width: 5, height: 5, class: "wash" }), drawn("line", { x1: 0, y1: 0, x2: 0, y2: 5, class: "stripe" }))),
    drawn("path", { d: steps(own.histogram, x, y, 0, Infinity), class: "holds" }),
    drawn("path", { d: steps(own.histogram, x, y, -Infinity, 0), class: "fails", fill: `url(#${hatch})` }),
    tried.base_margin === null ? null : drawn("path", { d: steps(tried.base_margin.histogram, x, y, -Infinity, Infinity), class: "before" }),
    drawn("line", { x1: 0, x2: wide, y1: HIGH - FOOT, y2: HIGH - FOOT, class: "axis" }),
    low < 0 && high > 0 ? drawn("line", { x1: x(0), x2: x(0), y1: 0, y2: HIGH - FOOT, class: "bound" }) : null,
    ...ticks(low, high, tried.unit, x, wide),
  );
}

/**
 * Say in words what a margin's picture shows.
 * @param {Tried} tried
 */
export function saying(tried) {
  const middle = (/** @type {Margin|null} */ one) => one?.quantiles.find(({ p }) => p === 0.5)?.value;
  const [now, before] = [middle(tried.margin), middle(tried.base_margin)];
  const text = now === undefined ? "No valid case." : `Half the cases keep ${amount(now, tried.unit)} or more; it holds in ${share(tried.chance.value)}.`;
  const was = before === undefined || tried.base === null ? "" : ` Before: ${amount(before, tried.unit)} and ${share(tried.base.value)}.`;
  return `Margin on “\u2068${tried.name.slice(0, 80)}\u2069”. ${text}${was}`;
}

/**
 * Write a picture as a file of its own, with the page's colours in it.
 * @param {SVGElement} picture
 * @returns {string}
 */
export function standalone(picture) {
  const copy = /** @type {SVGElement} */ (picture.cloneNode(true));
  const [own, made] = [picture, copy].map((one) => [one, ...one.querySelectorAll("*")]);
  own.forEach((node, position) => {
    const style = getComputedStyle(node);
    for (const name of ["fill", "stroke", "stroke-width", "stroke-dasharray", "font-size", "font-family", "text-anchor"]) {
      if (name === "fill" && node.hasAttribute("fill")) continue;
      made[position].setAttribute(name, style.getPropertyValue(name));
    }
  });
  copy.setAttribute("xmlns", SVG);
  const [, , width, height] = (picture.getAttribute("viewBox") ?? "").split(" ");
  copy.setAttribute("width", width);
  copy.setAttribute("height", height);
  return new XMLSerializer().serializeToString(copy);
}

/** @param {Margin["histogram"][]} all */
function span(all) {
  const filled = all.flatMap((one) => one.counts.flatMap((count, position) => (count > 0 ? [one.start + position * one.width, one.start + (position + 1) * one.width] : [])));
  const [low, high] = [Math.min(...filled), Math.max(...filled)];
  const room = 0.04 * (high - low);
  // The bound is shown where it is not far off: it is what the margin is a distance to.
  const near = low > 0 && low < 0.6 * (high - low) ? 0 : low;
  const far = high < 0 && -high < 0.6 * (high - low) ? 0 : high;
  return [near - room, far + room];
}

/** @param {Margin["histogram"]} one */
function densities(one) {
  const all = one.counts.reduce((sum, count) => sum + count, 0);
  return one.counts.map((count) => count / Math.max(all, 1) / one.width);
}

/**
 * @param {Margin["histogram"]} one
 * @param {(value: number) => number} x
 * @param {(density: number) => number} y
 * @param {number} from
 * @param {number} to
 */
function steps(one, x, y, from, to) {
  const parts = densities(one).map((density, position) => {
    const [start, end] = [Math.max(from, one.start + position * one.width), Math.min(to, one.start + (position + 1) * one.width)];
    return start < end ? { start, end, density } : null;
  });
  const shown = parts.filter((part) => part !== null);
  if (shown.length === 0) return "";
  const line = shown.map(({ start, end, density }) => `L${round(x(start))} ${round(y(density))}L${round(x(end))} ${round(y(density))}`).join("");
  return `M${round(x(shown[0].start))} ${round(y(0))}${line}L${round(x(shown[shown.length - 1].end))} ${round(y(0))}`;
}

/**
 * @param {number} low
 * @param {number} high
 * @param {string} unit
 * @param {(value: number) => number} x
 * @param {number} wide
 */
function ticks(low, high, unit, x, wide) {
  const raw = (high - low) / (wide / 110);
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = power * ([1, 2, 5, 10].find((one) => one * power >= raw) ?? 10);
  const first = Math.ceil(low / step) * step;
  const values = Array.from({ length: Math.floor((high - first) / step) + 1 }, (_, position) => first + position * step);
  return values.flatMap((value) => {
    const at = x(Math.abs(value) < step * 1e-6 ? 0 : value);
    const anchor = at < 30 ? "start" : at > wide - 30 ? "end" : "middle";
    const label = drawn("text", { x: round(at), y: HIGH - 6, class: `tick ${anchor}` });
    label.textContent = Math.abs(value) < step * 1e-6 ? "0" : amount(value, unit);
    return [drawn("line", { x1: round(at), x2: round(at), y1: HIGH - FOOT, y2: HIGH - FOOT - 4, class: "axis" }), label];
  });
}

/**
 * @param {string} tag
 * @param {Record<string, any>} given
 * @param {...(Node|null)} inside
 * @returns {any}
 */
function drawn(tag, given, ...inside) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(given)) made.setAttribute(name, String(value));
  made.append(...inside.filter((one) => one !== null));
  return made;
}

/** @param {number} value */
function round(value) {
  return Math.round(100 * value) / 100;
}
