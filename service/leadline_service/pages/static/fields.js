// Fields of the guided form: one for each kind of value that the schema knows, each with its example, unit and error.

import { button, element, freshId } from "./elements.js";
import { isRecord, valuesFor } from "./schema.js";
import { middleOf, read, underLaw, written } from "./values.js";

/** @typedef {import("./schema.js").Piece} Piece */
/** @typedef {import("./schema.js").Step} Step */

/**
 * What fields need of the form they stand in: they register, and hand over what was changed.
 * @typedef {object} Holder
 * @property {import("./schema.js").Schema} schema
 * @property {any} tree
 * @property {(path: Step[], value: any, at: string, optional: boolean) => void} typed a value was typed
 * @property {(edits: any[], said?: string, focus?: string) => void} change something was changed at once
 * @property {(path: Step[]) => void} goToText show it in the text
 * @property {(path: Step[], parts: {input?: HTMLElement, error: HTMLElement|null, box: HTMLElement}) => void} register
 */

const LAW_WORDS = /[:;.]/;
const KINDS = new Map([["flight", "differs from flight to flight"], ["knowledge", "is fixed, and only not known"]]);

/**
 * Make the field of a value.
 * @param {Holder} form
 * @param {any} piece
 * @param {any} value
 * @param {Step[]} path
 * @param {string} label
 * @returns {HTMLElement|null} null where the form has no field for it
 */
export function fieldOf(form, piece, value, path, label) {
  const shapes = form.schema.shapes(piece);
  if (shapes.every((shape) => isScalar(shape) && !shape.dispersed)) return lineField(form, form.schema.resolved(piece), value, path, label);
  if (shapes.length > 1) return null;
  const shape = shapes[0];
  if (shape.dispersed) return numberField(form, shape, value, path, label);
  if (shape.prefixItems !== undefined || shape.items?.type === "string") return listField(form, shape, value, path, label);
  return null;
}

/**
 * Write a key as words.
 * @param {Step} key
 * @returns {string}
 */
export function words(key) {
  return String(key).replaceAll("_", " ");
}

const BOUNDED = /^(.*?) ?Must be [^;]*; (.*), for example "(.*)"\.$/s;

/**
 * Make the hint of a field: what it is, in which units, an example. Its bounds are told once they are not kept.
 * @param {Piece} piece
 */
export function hintOf(piece) {
  const text = (piece.description ?? "").trim();
  const example = piece.examples?.find((/** @type {any} */ one) => typeof one !== "object");
  const found = BOUNDED.exec(text);
  if (found !== null) return `${found[1].replace(/\.$/, ": ")}${found[2]}, such as ${example ?? found[3]}`;
  return example === undefined || text.includes("for example") ? text : `${text} For example ${example}.`;
}

/**
 * One input: a quantity, a text, a whole number, a word out of a few.
 * @param {Holder} form
 * @param {Piece} piece
 * @param {any} value
 * @param {Step[]} path
 * @param {string} label
 */
function lineField(form, piece, value, path, label) {
  const key = String(path.at(-1));
  const options = valuesFor(piece, key, form.tree, form.schema);
  const open = form.schema.shapes(piece).some((shape) => shape.enum === undefined && shape.const === undefined);
  const made = open ? textInput(form, piece, value, path, options) : choice(form, options, value, path);
  return boxed(form, path, label, made, hintOf(piece));
}

/**
 * A number that may have a law: which one, then its parts.
 * @param {Holder} form
 * @param {Piece} number
 * @param {any} value
 * @param {Step[]} path
 * @param {string} label
 */
export function numberField(form, number, value, path, label) {
  const laws = form.schema.laws(number);
  const chosen = form.schema.lawOf(number, value);
  const id = freshId("law");
  const change = (/** @type {Event} */ event) => {
    const law = laws[Number(/** @type {HTMLSelectElement} */ (event.target).value)];
    const said = law.properties === undefined ? "" : "The law's parts are filled in to begin with; put in your own.";
    form.change([{ op: "set", place: path, value: underLaw(valueAt(form.tree, path), law) }], said, `${at(path)}#law`);
  };
  const select = element(
    "select",
    { id, class: "law", "aria-label": `${label}: its law`, dataset: { at: `${at(path)}#law` }, on: { change } },
    ...laws.map((law, position) => element("option", { value: position, selected: position === chosen, text: lawWords(laws, position) })),
  );
  const parts = chosen === 0 ? [textInput(form, number, middleIfPlain(value), path, [], label)] : lawParts(form, laws[chosen], value, path, label);
  const box = element("span", { class: "number" }, select, ...parts);
  return boxed(form, path, label, box, hintOf(number));
}

/**
 * @param {Holder} form
 * @param {Piece} law
 * @param {Record<string, any>} value
 * @param {Step[]} path
 * @param {string} label
 */
function lawParts(form, law, value, path, label) {
  const practice = law.properties.practice !== undefined;
  const keys = Object.keys(law.properties).filter((key) => key !== "law" && key !== "kind" && (!practice || key === "practice" || key === "nominal" || key in value));
  const parts = keys.map((key) => {
    const piece = { ...form.schema.resolved(law.properties[key]), optional: !law.required.includes(key) };
    const place = [...path, key];
    const named = `${label}, ${words(key)}`;
    if (piece.enum !== undefined) return element("label", { class: "part" }, words(key), choice(form, piece.enum, value[key], place, named));
    return element("label", { class: "part" }, words(key), textInput(form, piece, value[key], place, [], named));
  });
  if (law.properties.kind === undefined) return parts;
  return [...parts, kindChoice(form, value.kind, [...path, "kind"], label)];
}

/**
 * @param {Holder} form
 * @param {any} value
 * @param {Step[]} path
 * @param {string} label
 */
function kindChoice(form, value, path, label) {
  const change = (/** @type {Event} */ event) => {
    const chosen = /** @type {HTMLSelectElement} */ (event.target).value;
    const edit = chosen === "knowledge" ? { op: "set", place: path, value: chosen } : { op: "remove", place: path };
    form.change([edit], "", at(path));
  };
  const options = [...KINDS].map(([word, says]) => element("option", { value: word, selected: (value ?? "flight") === word, text: says }));
  const select = element("select", { "aria-label": `${label}: what kind of not knowing`, dataset: { at: at(path) }, on: { change } }, ...options);
  return element("label", { class: "part" }, "it ", select);
}

/**
 * A few texts in a row, parted by commas.
 * @param {Holder} form
 * @param {Piece} piece
 * @param {any} value
 * @param {Step[]} path
 * @param {string} label
 */
function listField(form, piece, value, path, label) {
  const input = textInput(form, { ...piece, list: true }, value, path, []);
  return boxed(form, path, label, input, `${hintOf(piece)} Separate them by commas.`);
}

/**
 * @param {Holder} form
 * @param {Piece} piece
 * @param {any} value
 * @param {Step[]} path
 * @param {string[]} options
 * @param {string} [label] where no label element stands beside
 * @returns {HTMLInputElement}
 */
function textInput(form, piece, value, path, options, label) {
  const place = at(path);
  const many = piece.list === true || piece.type === "array" || Array.isArray(value);
  const list = options.length === 0 ? null : element("datalist", { id: freshId("options") }, ...options.map((one) => element("option", { value: one })));
  const shown = written(value);
  const input = element("input", {
    value: shown, list: list?.id, "aria-label": label, autocomplete: "off", spellcheck: "false", size: Math.min(40, Math.max(wantsWords(piece) ? 28 : 9, shown.length + 2)), dataset: { at: place },
    on: { input: () => form.typed(path, many ? split(input.value, piece) : read(input.value, piece), place, piece.optional === true) },
  });
  if (list !== null) input.append(list);
  form.register(path, { input, error: null, box: input });
  return input;
}

/**
 * @param {Holder} form
 * @param {any[]} options
 * @param {any} value
 * @param {Step[]} path
 * @param {string} [label]
 */
function choice(form, options, value, path, label) {
  const change = (/** @type {Event} */ event) => {
    const chosen = /** @type {HTMLSelectElement} */ (event.target).value;
    form.change([{ op: "set", place: path, value: options.find((one) => String(one) === chosen) }], "", at(path));
  };
  const known = value === undefined || options.some((one) => String(one) === String(value));
  const shown = known ? options : [value, ...options];
  const made = shown.map((one) => element("option", { value: one, text: words(one), selected: String(one) === String(value) }));
  return element("select", { "aria-label": label, dataset: { at: at(path) }, on: { change } }, ...made);
}

/**
 * Put an input under its label, with its hint and room for what is wrong with it.
 * @param {Holder} form
 * @param {Step[]} path
 * @param {string} label
 * @param {HTMLElement} input the input, or what holds several
 * @param {string} hint
 */
function boxed(form, path, label, input, hint) {
  const single = input.matches("input, select");
  const [own, said, wrong] = [freshId("field"), freshId("hint"), freshId("wrong")];
  const target = single ? input : /** @type {HTMLElement} */ (input.querySelector("input") ?? input.querySelector("select"));
  if (single) input.id = own;
  target.setAttribute("aria-describedby", `${wrong} ${said}`);
  const named = single ? element("label", { for: own, text: label }) : element("span", { class: "label", id: own, text: label });
  if (!single) setGroup(input, own);
  const error = element("span", { id: wrong, class: "error", "aria-live": "polite" });
  const box = element("div", { class: "field" }, named, input, error, element("span", { id: said, class: "hint", text: hint }));
  form.register(path, { input: target, error, box });
  return box;
}

/**
 * @param {HTMLElement} box
 * @param {string} label
 */
function setGroup(box, label) {
  box.setAttribute("role", "group");
  box.setAttribute("aria-labelledby", label);
}

/**
 * Say that something is written in the text only.
 * @param {Holder} form
 * @param {any} value
 * @param {Step[]} path
 * @param {string} label
 */
export function textOnly(form, value, path, label) {
  const shown = written(value);
  const short = shown.length > 60 ? `${shown.slice(0, 59)}…` : shown;
  const box = element("div", { class: "field" }, element("span", { class: "label", text: label }), element("bdi", { class: "soft", text: short }), button("in the text", () => form.goToText(path), { "aria-label": `${label}: show in the text` }));
  form.register(path, { error: box.appendChild(element("span", { class: "error" })), box });
  return box;
}

/**
 * Give the mark by which an input is found again after the form is made anew.
 * @param {Step[]} path
 */
export function at(path) {
  return JSON.stringify(path);
}

/**
 * Read what stands at a path now, as a field outlives the value that it was made for.
 * @param {any} tree
 * @param {Step[]} path
 * @returns {any}
 */
export function valueAt(tree, path) {
  return path.reduce((/** @type {any} */ here, step) => here?.[step], tree);
}

/** @param {Piece} shape */
function isScalar(shape) {
  return shape.dimension !== undefined || shape.enum !== undefined || shape.const !== undefined || ["string", "integer", "number", "boolean"].includes(shape.type);
}

/** @param {Piece} piece */
function wantsWords(piece) {
  return piece.type === "string" && piece.dimension === undefined && (piece.maxLength ?? 1000) > 60;
}

/** @param {any} value */
function middleIfPlain(value) {
  return isRecord(value) ? middleOf(value) : value;
}

/**
 * @param {string} typed
 * @param {Piece} piece
 */
function split(typed, piece) {
  const item = piece.items ?? { type: "string" };
  return typed.split(",").map((one) => read(one, item)).filter((one) => one !== "");
}

/**
 * @param {Piece[]} laws
 * @param {number} position
 */
function lawWords(laws, position) {
  if (position === 0) return "fixed";
  const words = laws.map((law) => (law.description ?? "").split(LAW_WORDS)[0]);
  const twice = words.filter((one) => one === words[position]).length > 1;
  return (twice ? (laws[position].description ?? "").replace(/\.$/, "") : words[position]).replace(/^.(?![A-Z])/, (first) => first.toLowerCase());
}
