// Options in the guided form: values by the places of the numbers they replace.

import { button, element, freshId } from "./elements.js";
import { at, fieldOf, textOnly } from "./fields.js";
import { atPlace, isRecord, placesOf } from "./schema.js";

/** @typedef {import("./schema.js").Step} Step */
/** @typedef {import("./fields.js").Holder} Holder */

/**
 * Give a new option something to replace: the first number of the study, by itself.
 * @param {any} tree
 * @returns {Record<string, any>}
 */
export function firstReplaced(tree) {
  const [place] = placesOf(tree);
  return place === undefined ? {} : { [place]: atPlace(tree, place) };
}

/**
 * Make the fields of an option, and the row by which it replaces one more number.
 * @param {Holder} form
 * @param {Record<string, any>} value
 * @param {Step[]} path
 * @param {(place: string) => HTMLElement} removal
 * @returns {HTMLElement[]}
 */
export function optionParts(form, value, path, removal) {
  const fields = Object.entries(value).map(([place, one]) => {
    const part = replacedField(form, place, one, path);
    part.append(removal(place));
    return part;
  });
  return [...fields, oneMore(form, path)];
}

/**
 * @param {Holder} form
 * @param {string} place
 * @param {any} value
 * @param {Step[]} path
 */
function replacedField(form, place, value, path) {
  const own = [...path, place];
  if (value === null) return textOnly(form, "taken out", own, place);
  const piece = Array.isArray(value) ? null : pieceAt(form, place, value);
  const field = piece === null ? null : fieldOf(form, piece, value, own, place);
  return field ?? textOnly(form, value, own, place);
}

/**
 * Find what may stand at a place, in the shape that a value has.
 * @param {Holder} form
 * @param {string} place
 * @param {any} value
 */
function pieceAt(form, place, value) {
  const path = pathOf(form.tree, place);
  const above = path === null ? null : form.schema.at(path.slice(0, -1), form.tree);
  const found = path === null || above === null ? null : form.schema.inside(above, path[path.length - 1], undefined);
  if (found === null) return null;
  const shapes = form.schema.shapes(found);
  return shapes[form.schema.shapeOf(shapes, value)];
}

/**
 * Turn a place into a path: names may hold anything but dots, and a leg is found by its name.
 * @param {any} tree
 * @param {string} place
 * @returns {Step[]|null} null where nothing stands there
 */
function pathOf(tree, place) {
  let here = tree;
  /** @type {Step[]} */
  const path = [];
  for (const step of place.split(".")) {
    const legs = Array.isArray(here);
    const key = legs ? here.findIndex((/** @type {any} */ leg) => isRecord(leg) && Object.values(leg).includes(step)) : step;
    if (here?.[key] === undefined) return null;
    path.push(key);
    here = here[key];
  }
  return path;
}

/**
 * @param {Holder} form
 * @param {Step[]} path
 */
function oneMore(form, path) {
  const [id, list] = [freshId("place"), freshId("places")];
  const input = element("input", { id, list, size: 34, autocomplete: "off", dataset: { at: at([...path, "+place"]) } });
  const known = element("datalist", { id: list }, ...placesOf(form.tree).map((place) => element("option", { value: place })));
  const add = () => {
    const place = input.value.trim();
    const value = atPlace(form.tree, place);
    input.setAttribute("aria-invalid", String(value === undefined));
    if (value === undefined) return input.focus();
    form.change([{ op: "set", place: [...path, place], value }], `${place} is replaced by what it is; put in what it shall be.`, at([...path, place]));
  };
  input.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    add();
  });
  return element("div", { class: "adding" }, element("label", { for: id, text: "Replace also" }), input, known, button("Add", add, { "aria-label": "Add what is named to the option" }));
}
