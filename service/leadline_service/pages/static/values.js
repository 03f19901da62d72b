// Values for what is added to a study, and values moved from one law to another.

import { isRecord, kindKey, valuesFor } from "./schema.js";

/** @typedef {import("./schema.js").Piece} Piece */
/** @typedef {import("./schema.js").Schema} Schema */

const WRITTEN = /^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$/;
/** Keys that hold about the middle of a law, the likeliest first. */
const MIDDLES = ["nominal", "likely", "mean", "median"];
/** Where each end of a law is put, beside its middle, until somebody says better. */
const SHARES = { low: 0.95, high: 1.05, sd: 0.02, at_least: 0.9, at_most: 1.1 };

/**
 * Read what was typed as YAML would: a plain number as one, anything else as text.
 * @param {string} typed
 * @param {Piece} piece
 * @returns {any}
 */
export function read(typed, piece) {
  const text = typed.trim();
  const wantsText = piece.dimension === undefined && (piece.type === "string" || piece.enum !== undefined);
  if (wantsText || text === "" || !Number.isFinite(Number(text))) return text;
  return Number(text);
}

/**
 * Write a value as it stands in a field.
 * @param {any} value
 * @returns {string}
 */
export function written(value) {
  if (value === undefined || value === null) return "";
  if (Array.isArray(value)) return value.map(written).join(", ");
  return isRecord(value) ? JSON.stringify(value) : String(value);
}

/**
 * Give something to begin with where a key is added.
 * @param {Schema} schema
 * @param {any} given the piece
 * @param {string} key
 * @param {any} tree
 * @returns {any}
 */
export function beginning(schema, given, key, tree) {
  const piece = schema.resolved(given);
  const shape = schema.shapes(piece)[0];
  const named = valuesFor(piece, key, tree, schema);
  if (named.length > 0 && shape.type !== "array") return named[0];
  if (isMap(shape)) return {};
  if (piece.examples?.length > 0) return piece.examples[0];
  if (shape.examples?.length > 0) return shape.examples[0];
  if (shape.properties !== undefined) return recordOf(schema, shape, [shape], "", tree);
  if (shape.prefixItems !== undefined) return shape.prefixItems.map((/** @type {any} */ one) => beginning(schema, one, key, tree));
  return shape.type === "integer" ? (shape.minimum ?? 1) : shape.type === "array" ? [] : "";
}

/**
 * Make a record of a shape with what it cannot do without.
 * @param {Schema} schema
 * @param {Piece} shape
 * @param {Piece[]} among
 * @param {string} name what it is called, where its kind's key holds a name
 * @param {any} tree
 * @returns {Record<string, any>}
 */
export function recordOf(schema, shape, among, name, tree) {
  const kind = kindKey(shape, among);
  const keys = [...new Set([kind, ...(shape.required ?? [])])].filter((key) => key !== null);
  return Object.fromEntries(
    keys.map((key) => {
      const piece = shape.properties[key];
      if (key === kind && name !== "" && piece.description === "The leg's name.") return [key, name];
      return [key, beginning(schema, piece, key, tree)];
    }),
  );
}

/**
 * Give something to begin with where an entry is added to named ones.
 * @param {Schema} schema
 * @param {Piece} map
 * @param {any} tree
 */
export function entryOf(schema, map, tree) {
  const shape = schema.shapes(map.additionalProperties)[0];
  return shape.properties === undefined ? beginning(schema, shape, "", tree) : recordOf(schema, shape, [shape], "", tree);
}

/**
 * Write a number with another law: what both have is kept, the rest is put about its middle.
 * @param {any} value as it is written
 * @param {Piece} law the other
 * @returns {any}
 */
export function underLaw(value, law) {
  const middle = middleOf(value);
  if (law.properties === undefined) return middle;
  const { number, unit } = parted(middle);
  const old = isRecord(value) ? value : {};
  /** @type {Record<string, any>} */
  const made = {};
  for (const key of law.required ?? []) made[key] = part(key, law.properties[key], old, number, unit, middle);
  if (old.kind !== undefined && law.properties.kind !== undefined) made.kind = old.kind;
  for (const key of ["law", "practice"]) if (made[key] === undefined) delete made[key];
  return orderly(made, law);
}

/**
 * Name the middle of a number as it is written.
 * @param {any} value
 * @returns {any}
 */
export function middleOf(value) {
  if (!isRecord(value)) return Array.isArray(value) ? value[0] : (value ?? "");
  const key = MIDDLES.find((one) => value[one] !== undefined);
  if (key !== undefined) return value[key];
  if (Array.isArray(value.values)) return value.unit === undefined ? value.values[0] : `${value.values[0]} ${value.unit}`;
  const [low, high] = [parted(value.low), parted(value.high)];
  if (Number.isFinite(low.number) && low.unit === high.unit) return joined((low.number + high.number) / 2, low.unit, value.low);
  return Object.values(value).find((one) => WRITTEN.test(String(one))) ?? "";
}

/**
 * @param {string} key
 * @param {Piece} piece
 * @param {Record<string, any>} old
 * @param {number} number
 * @param {string} unit
 * @param {any} middle
 */
function part(key, piece, old, number, unit, middle) {
  if (piece.const !== undefined) return piece.const;
  if (piece.enum !== undefined) return piece.enum.includes(old[key]) ? old[key] : piece.enum[0];
  if (old[key] !== undefined) return old[key];
  if (MIDDLES.includes(key)) return middle;
  if (key === "spread") return 1.2;
  if (key === "values") return piece.items?.type === "number" ? [number, number] : [middle];
  if (key === "chances") return [1];
  const share = SHARES[/** @type {"sd"} */ (key)];
  return share === undefined || !Number.isFinite(number) ? middle : joined(number * share, unit, middle);
}

/**
 * @param {any} value
 */
function parted(value) {
  const found = WRITTEN.exec(String(value ?? ""));
  return found === null ? { number: Number.NaN, unit: "" } : { number: Number(found[1]), unit: found[2] };
}

/**
 * @param {number} number
 * @param {string} unit
 * @param {any} like a text or a number, as the result should be
 */
function joined(number, unit, like) {
  const rounded = Number(number.toPrecision(4));
  return typeof like === "number" ? rounded : `${rounded} ${unit}`.trim();
}

/**
 * @param {Record<string, any>} made
 * @param {Piece} law
 */
function orderly(made, law) {
  const keys = Object.keys(law.properties ?? {}).filter((key) => key in made);
  return Object.fromEntries(keys.map((key) => [key, made[key]]));
}

/** @param {Piece} shape */
function isMap(shape) {
  return shape.type === "object" && shape.properties === undefined && typeof shape.additionalProperties === "object";
}
