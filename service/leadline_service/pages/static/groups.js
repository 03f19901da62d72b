// Groups of the guided form: records, named entries, lists in order, and values of several shapes.

import { button, element, freshId, named } from "./elements.js";
import { at, fieldOf, hintOf, textOnly, valueAt, words } from "./fields.js";
import { firstReplaced, optionParts } from "./options.js";
import { isRecord, kindKey, legName } from "./schema.js";
import { beginning, entryOf, middleOf, recordOf, written } from "./values.js";

/** @typedef {import("./schema.js").Piece} Piece */
/** @typedef {import("./schema.js").Step} Step */
/** @typedef {import("./fields.js").Holder & {open: Set<string>, refresh: () => void}} Holder */

const EXAMPLE = "Added with an example to begin with; put in your own.";

/**
 * Make the part of the form for a value of any shape.
 * @param {Holder} form
 * @param {any} piece
 * @param {any} value
 * @param {Step[]} path
 * @param {string} label
 * @returns {HTMLElement}
 */
export function partOf(form, piece, value, path, label) {
  const field = fieldOf(form, piece, value, path, label);
  if (field !== null) return field;
  const shapes = form.schema.shapes(piece);
  if (shapes.length > 1) return several(form, piece, shapes, value, path, label);
  const shape = shapes[0];
  if (shape.properties !== undefined && (isRecord(value) || value === undefined)) return group(form, path, label, recordParts(form, shape, value ?? {}, path));
  if (shape.items !== undefined && (Array.isArray(value) || value === undefined)) return entries(form, shape, value ?? [], path, label);
  if (typeof shape.additionalProperties === "object" && (isRecord(value) || value === undefined)) return namedEntries(form, shape, value ?? {}, path, label);
  return textOnly(form, value, path, label);
}

/**
 * Make the fields of a record: those it has and those it must have, then a list of what may be added.
 * @param {Holder} form
 * @param {Piece} shape
 * @param {Record<string, any>} value
 * @param {Step[]} path
 * @param {string[]} [without] keys shown elsewhere
 * @returns {HTMLElement[]}
 */
export function recordParts(form, shape, value, path, without = []) {
  const known = Object.keys(shape.properties).filter((key) => !without.includes(key));
  const required = new Set(shape.required ?? []);
  const shown = known.filter((key) => key in value || required.has(key));
  const parts = shown.map((key) => {
    const part = partOf(form, shape.properties[key], value[key] ?? undefined, [...path, key], words(key));
    if (!required.has(key) && key in value) part.append(removal(form, [...path, key], words(key)));
    return part;
  });
  const strange = Object.keys(value).filter((key) => shape.properties[key] === undefined);
  const unknown = strange.map((key) => {
    const part = textOnly(form, value[key], [...path, key], key);
    part.append(removal(form, [...path, key], key));
    return part;
  });
  const missing = known.filter((key) => !shown.includes(key));
  return missing.length === 0 ? [...parts, ...unknown] : [...parts, ...unknown, addition(form, shape, missing, path)];
}

/**
 * @param {Holder} form
 * @param {Piece} shape
 * @param {string[]} missing
 * @param {Step[]} path
 */
function addition(form, shape, missing, path) {
  const add = (/** @type {string} */ key) => {
    const value = beginning(form.schema, shape.properties[key], key, form.tree);
    form.change([{ op: "set", place: [...path, key], value }], EXAMPLE, at([...path, key]));
  };
  return chooser("Add", missing.map((key) => [key, words(key), hintOf(form.schema.resolved(shape.properties[key]))]), add, at([...path, "+"]), `Add to ${words(path.at(-1) ?? "the study")}`);
}

/**
 * Make a list of things to pick one from, and the button that takes it.
 * @param {string} verb
 * @param {[string, string, string][]} things each with its words and what it is
 * @param {(key: string) => void} take
 * @param {string} mark
 * @param {string} label
 */
function chooser(verb, things, take, mark, label) {
  const options = things.map(([key, text, says]) => element("option", { value: key, text, title: says }));
  const select = element("select", { "aria-label": label, dataset: { at: mark } }, ...options);
  const said = element("span", { class: "hint", text: things[0][2] });
  select.addEventListener("change", () => (said.textContent = things[select.selectedIndex][2]));
  if (things.length === 1) return element("div", { class: "adding" }, button(`${verb} ${things[0][1]}`, () => take(things[0][0]), { "aria-label": `${label}: ${things[0][1]}`, dataset: { at: mark } }), said);
  return element("div", { class: "adding" }, select, button(verb, () => take(select.value), { "aria-label": `${verb} what is chosen` }), said);
}

/**
 * A value that may have one of several shapes: which, then its fields.
 * @param {Holder} form
 * @param {Piece} piece
 * @param {Piece[]} shapes
 * @param {any} value
 * @param {Step[]} path
 * @param {string} label
 */
function several(form, piece, shapes, value, path, label) {
  const chosen = form.schema.shapeOf(shapes, value);
  const change = (/** @type {Event} */ event) => {
    const shape = shapes[Number(/** @type {HTMLSelectElement} */ (event.target).value)];
    form.change([{ op: "set", place: path, value: shaped(form, shape, shapes, valueAt(form.tree, path), path) }], EXAMPLE, `${at(path)}#shape`);
  };
  const options = shapes.map((shape, position) => element("option", { value: position, selected: position === chosen, text: shapeWords(shape, shapes) }));
  const select = element("select", { "aria-label": `${label}: in which way`, dataset: { at: `${at(path)}#shape` }, on: { change } }, ...options);
  const shape = shapes[chosen];
  const own = fieldOf(form, shape, value, path, label);
  const only = Object.keys(shape.properties ?? {});
  const inner = only.length === 1 ? form.schema.resolved(shape.properties[only[0]]) : null;
  const parts = own !== null ? [own] : inner?.properties !== undefined ? recordParts(form, inner, value?.[only[0]] ?? {}, [...path, only[0]]) : [partOf(form, shape, value, path, label)];
  return group(form, path, label, [element("label", { class: "part" }, "given as ", select), ...parts], piece.description);
}

/**
 * @param {Holder} form
 * @param {Piece} shape
 * @param {Piece[]} shapes
 * @param {any} value
 * @param {Step[]} path
 */
function shaped(form, shape, shapes, value, path) {
  if (shape.dimension !== undefined) return middleOf(value) || (shape.examples?.[0] ?? "");
  if (shape.properties === undefined) return beginning(form.schema, shape, String(path.at(-1)), form.tree);
  const required = recordOf(form.schema, shape, shapes, "", form.tree);
  if (Object.keys(required).length > 0) return required;
  const key = Object.keys(shape.properties)[0];
  const keep = middleOf(value);
  const inner = form.schema.shapes(shape.properties[key])[0];
  return { [key]: inner.dimension !== undefined && keep !== "" ? keep : beginning(form.schema, shape.properties[key], key, form.tree) };
}

/**
 * @param {Piece} shape
 * @param {Piece[]} shapes
 */
function shapeWords(shape, shapes) {
  if (shape.dimension !== undefined) return "one value";
  const keys = Object.keys(shape.properties ?? {});
  if (keys.length === 1) return words(keys[0]);
  if (shape.enum !== undefined) return "one of those known";
  const said = (shape.description ?? "").split(/[.;:]/)[0];
  return said === "" ? words(kindKey(shape, shapes) ?? shape.type ?? "otherwise") : said.replace(/^./, (first) => first.toLowerCase());
}

/**
 * Entries that have names: elements, engines, tanks, requirements, options.
 * @param {Holder} form
 * @param {Piece} map
 * @param {Record<string, any>} value
 * @param {Step[]} path
 * @param {string} label
 */
function namedEntries(form, map, value, path, label) {
  const made = Object.entries(value).map(([name, one]) => {
    const place = [...path, name];
    const shapes = form.schema.shapes(map.additionalProperties);
    return foldable(form, place, name, summaryOf(one, shapes, form), () => [tools(renaming(form, place, name), removal(form, place, name)), ...entryParts(form, shapes, one, place)]);
  });
  return group(form, path, label, [...made, newEntry(form, map, path, label)], map.description);
}

/**
 * @param {Holder} form
 * @param {Piece[]} shapes
 * @param {any} value
 * @param {Step[]} path
 */
function entryParts(form, shapes, value, path) {
  const shape = shapes[form.schema.shapeOf(shapes, value)];
  if (!isRecord(value)) return [textOnly(form, value, path, "written as")];
  if (shape.properties !== undefined) return recordParts(form, shape, value, path);
  return optionParts(form, value, path, (place) => removal(form, [...path, place], place));
}

/**
 * @param {Holder} form
 * @param {Piece} map
 * @param {Step[]} path
 * @param {string} label
 */
function newEntry(form, map, path, label) {
  const shapes = form.schema.shapes(map.additionalProperties);
  const id = freshId("new");
  const input = element("input", { id, autocomplete: "off", maxlength: 60, dataset: { at: at([...path, "+name"]) } });
  const kinds = shapes.length > 1 ? shapes.map((shape, position) => element("option", { value: position, text: shapeWordsOf(shape, shapes) })) : [];
  const select = kinds.length === 0 ? null : element("select", { "aria-label": `${label}: kind of the new one`, dataset: { at: at([...path, "+kind"]) } }, ...kinds);
  const said = element("span", { class: "hint", text: kinds.length === 0 ? "" : (shapes[0].description ?? "") });
  select?.addEventListener("change", () => (said.textContent = shapes[select.selectedIndex].description ?? ""));
  const add = () => {
    const name = input.value.trim();
    if (name === "" || name in (valueAt(form.tree, path) ?? {})) return input.focus();
    const isOption = map.additionalProperties.additionalProperties === true;
    const plain = () => (isOption ? firstReplaced(form.tree) : entryOf(form.schema, map, form.tree));
    const made = select === null ? plain() : recordOf(form.schema, shapes[Number(select.value)], shapes, "", form.tree);
    form.open.add(at([...path, name]));
    form.change([{ op: "set", place: [...path, name], value: made }], EXAMPLE, at([...path, name]));
  };
  input.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    add();
  });
  return element("div", { class: "adding" }, element("label", { for: id, text: "New, named" }), input, select, button("Add", add, { "aria-label": `Add to ${label}` }), said);
}

/**
 * Entries in order: legs above all, and correlations.
 * @param {Holder} form
 * @param {Piece} list
 * @param {any[]} value
 * @param {Step[]} path
 * @param {string} label
 */
function entries(form, list, value, path, label) {
  const shapes = form.schema.shapes(list.items);
  const made = value.map((one, position) => {
    const place = [...path, position];
    const shape = shapes[form.schema.shapeOf(shapes, one)];
    const kind = shapes.length > 1 ? kindKey(shape, shapes) : null;
    const title = `${position + 1}. ${kind === null ? "" : words(kind)} ${legName(one)}`.trim();
    return foldable(form, place, title, summaryOf(one, shapes, form), () => [tools(...moves(form, place, position, value.length, title), removal(form, place, title)), ...entryParts(form, shapes, one, place)]);
  });
  return group(form, path, label, [...made, newListed(form, shapes, path, label)], list.description);
}

/**
 * @param {Holder} form
 * @param {Piece[]} shapes
 * @param {Step[]} path
 * @param {string} label
 */
function newListed(form, shapes, path, label) {
  const add = (/** @type {string} */ chosen) => {
    const shape = shapes[Number(chosen)];
    const value = valueAt(form.tree, path) ?? [];
    const taken = new Set(value.map(legName));
    const kind = words(kindKey(shape, shapes) ?? "");
    let [name, number] = [kind, 2];
    while (taken.has(name)) name = `${kind} ${number++}`;
    const place = [...path, value.length];
    form.open.add(at(place));
    form.change([{ op: "insert", place, value: recordOf(form.schema, shape, shapes, name, form.tree) }], EXAMPLE, at(place));
  };
  const things = shapes.map((shape, position) => /** @type {[string, string, string]} */ ([String(position), shapeWordsOf(shape, shapes), shape.description ?? ""]));
  return chooser("Add", things, add, at([...path, "+"]), `Add to ${label}`);
}

/**
 * @param {Holder} form
 * @param {Step[]} place
 * @param {number} position
 * @param {number} count
 * @param {string} title
 */
function moves(form, place, position, count, title) {
  const move = (/** @type {number} */ to) => () => {
    const target = [...place.slice(0, -1), to];
    swapOpen(form.open, at(place), at(target));
    form.change([{ op: "move", place, to }], `${title} is now number ${to + 1}.`, `${at(target)}#${to < position ? "up" : "down"}`);
  };
  return [
    button("earlier", move(position - 1), { disabled: position === 0, "aria-label": `Move ${title} earlier`, dataset: { at: `${at(place)}#up` } }),
    button("later", move(position + 1), { disabled: position === count - 1, "aria-label": `Move ${title} later`, dataset: { at: `${at(place)}#down` } }),
  ];
}

/**
 * @param {Set<string>} open
 * @param {string} one
 * @param {string} other
 */
function swapOpen(open, one, other) {
  const [had, has] = [open.has(one), open.has(other)];
  for (const [key, was] of /** @type {[string, boolean][]} */ ([[one, has], [other, had]])) was ? open.add(key) : open.delete(key);
}

/**
 * An entry that is made once it is unfolded, as a study may have hundreds of them.
 * @param {Holder} form
 * @param {Step[]} path
 * @param {string} title
 * @param {string} summary
 * @param {() => HTMLElement[]} parts
 */
function foldable(form, path, title, summary, parts) {
  const key = at(path);
  const open = form.open.has(key);
  const error = element("p", { class: "error" });
  const head = element("summary", { dataset: { at: `${key}#fold` } }, named(title, 60), " ", element("span", { class: "soft", text: summary }));
  const box = element("details", { class: "entry", open, dataset: { at: key } }, head, error, ...(open ? parts() : []));
  box.addEventListener("toggle", () => {
    if (box.open === form.open.has(key) || !box.isConnected) return;
    if (box.open) form.open.add(key);
    else form.open.delete(key);
    form.refresh();
  });
  form.register(path, { error, box });
  return box;
}

/** @param {...HTMLElement} inside */
function tools(...inside) {
  return element("p", { class: "tools" }, ...inside);
}

/**
 * @param {Holder} form
 * @param {Step[]} path
 * @param {string} label
 * @param {HTMLElement[]} parts
 * @param {string} [says]
 */
function group(form, path, label, parts, says) {
  const error = element("p", { class: "error" });
  const hint = says ? element("p", { class: "hint", text: says }) : null;
  const box = element("fieldset", { dataset: { at: at(path) } }, element("legend", { text: label }), hint, error, ...parts);
  form.register(path, { error, box });
  return box;
}

/**
 * @param {Holder} form
 * @param {Step[]} path
 * @param {string} label
 */
function removal(form, path, label) {
  return button("take out", () => form.change([{ op: "remove", place: path }], `${label} is taken out.`, at([...path.slice(0, -1), "+"])), { "aria-label": `Take out ${label}`, class: "remove" });
}

/**
 * @param {Holder} form
 * @param {Step[]} path
 * @param {string} name
 */
function renaming(form, path, name) {
  const input = element("input", { value: name, "aria-label": `Name of ${name}`, maxlength: 60, size: 16, autocomplete: "off", dataset: { at: `${at(path)}#name` } });
  input.addEventListener("change", () => {
    const to = input.value.trim();
    if (to === "" || to === name) return;
    const place = [...path.slice(0, -1), to];
    if (form.open.delete(at(path))) form.open.add(at(place));
    form.change([{ op: "rename", place: path, to }], `${name} is now ${to}.`, `${at(place)}#name`);
  });
  return element("label", { class: "part" }, "name ", input);
}

/**
 * @param {any} value
 * @param {Piece[]} shapes
 * @param {Holder} form
 */
function summaryOf(value, shapes, form) {
  if (!isRecord(value)) return written(value);
  const shape = shapes[form.schema.shapeOf(shapes, value)];
  const plain = Object.entries(value).filter(([key, one]) => !isRecord(one) && !Array.isArray(one) && shape.properties?.[key]?.description !== "The leg's name.");
  const text = plain.slice(0, 3).map(([key, one]) => `${words(key)} ${written(one)}`).join(", ");
  return text.length > 60 ? `${text.slice(0, 59)}…` : text;
}

/**
 * @param {Piece} shape
 * @param {Piece[]} shapes
 */
function shapeWordsOf(shape, shapes) {
  return shapes.length > 1 ? words(kindKey(shape, shapes) ?? "") : "one more";
}
