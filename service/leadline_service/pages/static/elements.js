// Elements of a page, made without ever reading text as markup.

/**
 * What an element is given: attributes by their names; `on` holds listeners, `dataset` data, `text` the text inside.
 * An attribute that is null, undefined or false is left out, one that is true stands without a value.
 * @typedef {Record<string, any>} Given
 */

/**
 * Make an element.
 * @param {string} tag
 * @param {Given} [given]
 * @param {...(Node|string|null|undefined|false)} inside strings become text, nothing is left out
 * @returns {any} an HTMLElement of the tag's kind
 */
export function element(tag, given = {}, ...inside) {
  const made = document.createElement(tag);
  const { on = {}, dataset = {}, text, ...attributes } = given;
  for (const [name, value] of Object.entries(attributes)) setAttribute(made, name, value);
  for (const [name, value] of Object.entries(dataset)) made.dataset[name] = String(value);
  for (const [name, listener] of Object.entries(on)) made.addEventListener(name, listener);
  if (text !== undefined && text !== null) made.textContent = String(text);
  made.append(...inside.filter((one) => one !== null && one !== undefined && one !== false));
  return made;
}

/**
 * Make a button that looks like the page's other plain buttons.
 * @param {string} text
 * @param {() => void} pressed
 * @param {Given} [given]
 * @returns {HTMLButtonElement}
 */
export function button(text, pressed, given = {}) {
  return element("button", { type: "button", ...given, text, on: { click: pressed } });
}

/**
 * Isolate a text that somebody wrote from the direction of the text around it.
 * @param {string} text
 * @param {number} [most] characters shown; the whole stands in the title
 * @returns {HTMLElement}
 */
export function named(text, most = 80) {
  const letters = [...text];
  if (letters.length <= most) return element("bdi", { text });
  return element("bdi", { text: `${letters.slice(0, most - 1).join("")}…`, title: letters.slice(0, 400).join("") });
}

/**
 * Put nodes in the place of whatever is in an element.
 * @param {Element|null} place
 * @param {...(Node|string)} nodes
 */
export function fill(place, ...nodes) {
  place?.replaceChildren(...nodes);
}

/**
 * Find an element by its id, which the template promises.
 * @param {string} id
 * @returns {any}
 */
export function byId(id) {
  return document.getElementById(id);
}

/**
 * Read what a page brings for its script.
 * @param {string} [id]
 * @returns {any} null where the page brings nothing
 */
export function pageData(id = "page-data") {
  const held = byId(id);
  return held === null ? null : JSON.parse(held.textContent);
}

let numbered = 0;

/**
 * Give an id that no other element of the page has.
 * @param {string} stem
 * @returns {string}
 */
export function freshId(stem) {
  numbered += 1;
  return `${stem}-${numbered}`;
}

/**
 * Say something in a region that is read aloud, once things have come to rest.
 * @param {HTMLElement|null} region
 * @param {string} text
 */
export function announce(region, text) {
  if (region !== null && region.textContent !== text) region.textContent = text;
}

/**
 * Hold a call back until there was no other for a while.
 * @template {any[]} A
 * @param {(...given: A) => void} call
 * @param {number} pause_ms
 * @returns {((...given: A) => void) & {now: () => void, drop: () => void}}
 */
export function rested(call, pause_ms) {
  /** @type {number|undefined} */
  let waiting;
  /** @type {any} */
  let held = [];
  const run = () => {
    waiting = undefined;
    call(...held);
  };
  const later = (/** @type {any[]} */ ...given) => {
    held = given;
    clearTimeout(waiting);
    waiting = setTimeout(run, pause_ms);
  };
  later.now = () => {
    if (waiting === undefined) return;
    clearTimeout(waiting);
    run();
  };
  later.drop = () => {
    clearTimeout(waiting);
    waiting = undefined;
  };
  return /** @type {any} */ (later);
}

/**
 * @param {Element} made
 * @param {string} name
 * @param {any} value
 */
function setAttribute(made, name, value) {
  if (value === null || value === undefined || value === false) return;
  if (name === "value" && "value" in made) made.value = value;
  else made.setAttribute(name, value === true ? "" : String(value));
}
