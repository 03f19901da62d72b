// Numbers as a reader meets them, worded as in the report.

const NARROW = "\u202f";
const MINUS = "\u2212";

/** @typedef {{value: number, low: number, high: number, confidence?: number}} Interval */

/**
 * Write a count in groups of three.
 * @param {number} value
 */
export function count(value) {
  return String(Math.round(value)).replace(/\B(?=(\d{3})+$)/g, NARROW);
}

/**
 * Write a share as a percentage with three figures of its distance from 0 or 100 %.
 * @param {number} value
 * @param {"down"|"up"|"nearest"} [rounding]
 */
export function share(value, rounding = "nearest") {
  return `${bareShare(value, rounding)}${NARROW}%`;
}

/**
 * Write a chance with its interval, whose ends are rounded outwards.
 * @param {Interval} given
 */
export function chance(given) {
  return `${share(given.value)} ${interval(given)}`;
}

/**
 * Write the interval of a chance, in brackets.
 * @param {Interval} given
 */
export function interval(given) {
  return `(${bareShare(given.low, "down")} to ${share(given.high, "up")})`;
}

/**
 * Write a difference in points with its interval, to the decimals that the interval bears.
 * @param {Interval} given
 */
export function points(given) {
  const half = 50 * (given.high - given.low);
  const digits = half > 0 ? Math.min(Math.max(1 - Math.floor(Math.log10(half)), 0), 9) : 1;
  const [value, low, high] = [given.value, given.low, given.high].map((one) => signed(100 * one, digits));
  return `${value} points (${low} to ${high})`;
}

/**
 * Write a number with its sign.
 * @param {number} value
 * @param {number} digits
 */
export function signed(value, digits) {
  const text = value.toFixed(digits);
  const zero = Number(text) === 0;
  return zero ? Math.abs(Number(text)).toFixed(digits) : value > 0 ? `+${text}` : text.replace("-", MINUS);
}

/**
 * Write a span of time in the unit that suits it.
 * @param {number} time_s
 */
export function duration(time_s) {
  if (time_s < 1) return "less than 1 s";
  if (time_s < 90) return `${Math.round(time_s)} s`;
  if (time_s < 5400) return `${Math.round(time_s / 60)} min`;
  return time_s < 172800 ? `${Math.round(time_s / 3600)} h` : `${Math.round(time_s / 86400)} d`;
}

/**
 * Read a count as somebody types it: with spaces, or as 1e6.
 * @param {string} typed
 * @returns {number|null} null where it is none
 */
export function countOf(typed) {
  const value = Number(typed.replace(/[\s\u202f\u00a0_]/g, ""));
  return typed.trim() !== "" && Number.isInteger(value) && value >= 0 ? value : null;
}

/**
 * @param {number} value
 * @param {"down"|"up"|"nearest"} rounding
 */
function bareShare(value, rounding) {
  const distance = 100 * Math.min(value, 1 - value);
  if (!(distance > 0)) return String(100 * value);
  const places = Math.min(12, Math.max(1, 2 - Math.floor(Math.log10(distance))));
  const [steps, left, half] = dividedExactly(value, places + 2);
  const up = rounding === "up" ? left > 0n : rounding === "nearest" && (left > half || (left === half && steps % 2n === 1n));
  const digits = String(steps + (up ? 1n : 0n)).padStart(places + 1, "0");
  return `${digits.slice(0, -places)}.${digits.slice(-places)}`;
}

const EXACT = 70;

/**
 * Count the steps of a size in a share, from the number's every digit: a bound never says more than it holds.
 * @param {number} value
 * @param {number} decimals of the step
 * @returns {[bigint, bigint, bigint]} the steps, what is left, and half a step
 */
function dividedExactly(value, decimals) {
  const whole = BigInt(value.toFixed(EXACT).replace(".", ""));
  const step = 10n ** BigInt(EXACT - decimals);
  return [whole / step, whole % step, step / 2n];
}

/**
 * Units that an SI unit is shown in, as the report has them: from which size up, and how many SI units one holds.
 * @type {Record<string, [number, string, number][]>}
 */
const SHOWN_IN = {
  kg: [[1e3, "t", 1e3]],
  "m/s": [[1e3, "km/s", 1e3]],
  s: [[172800, "d", 86400], [7200, "h", 3600], [120, "min", 60]],
  m: [[1e3, "km", 1e3]],
  N: [[1e6, "MN", 1e6], [1e3, "kN", 1e3]],
  W: [[1e6, "MW", 1e6], [1e3, "kW", 1e3]],
  Pa: [[1e6, "MPa", 1e6], [1e3, "kPa", 1e3]],
  "W/m2": [[1e6, "MW/m2", 1e6], [1e3, "kW/m2", 1e3]],
  "J/m2": [[1e6, "MJ/m2", 1e6], [1e3, "kJ/m2", 1e3]],
  "J/kg": [[1e6, "MJ/kg", 1e6], [1e3, "kJ/kg", 1e3]],
  rad: [[0, "deg", Math.PI / 180]],
  "/s": [[0, "%/d", 0.01 / 86400]],
};

/**
 * Write an SI value in the unit that suits its size, to three figures.
 * @param {number} value_si
 * @param {string} unit_si
 */
export function amount(value_si, unit_si) {
  const rounded = Math.abs(Number(value_si.toPrecision(3)));
  const [, unit, size] = (SHOWN_IN[unit_si] ?? []).find(([least]) => rounded >= least) ?? [0, unit_si, 1];
  const raised = unit.replace(/(?<=[ms])2\b/g, "²").replace(/(?<=m)3\b/g, "³");
  return `${figures(value_si / size).replaceAll("-", MINUS)}${raised === "" ? "" : `\u00a0${raised}`}`;
}

/** @param {number} value */
function figures(value) {
  const rounded = Number(value.toPrecision(3));
  if (rounded === 0) return "0";
  const large = Math.floor(Math.log10(Math.abs(rounded)));
  if (large < -4 || large >= 15) return rounded.toExponential().replace(/([-+])(\d)$/, "$10$2");
  return String(Number(value.toFixed(Math.max(0, 2 - large))));
}
