// Completion at the caret: what the schema knows to stand there, in a list that the keyboard and a reader can use.

import { element, fill, freshId } from "./elements.js";
import { writingAt } from "./caret.js";
import { isRecord, valuesFor } from "./schema.js";

/** @typedef {import("./schema.js").Schema} Schema */
/** @typedef {import("./text.js").TextEditor} TextEditor */
/** @typedef {{text: string, says: string, insert: string}} Offer */

const MOST = 40;

/** A list of what may be written at the caret of a text editor. */
export class Completion {
  /**
   * @param {TextEditor} editor
   * @param {Schema} schema
   * @param {() => any} tree gives the study as last read from the text
   * @param {HTMLElement} spoken says how many there are
   */
  constructor(editor, schema, tree, spoken) {
    this.editor = editor;
    this.schema = schema;
    this.tree = tree;
    this.spoken = spoken;
    /** @type {Offer[]} */
    this.offers = [];
    this.chosen = 0;
    this.start = 0;
    this.list = element("ul", { id: freshId("offers"), class: "offers", role: "listbox", "aria-label": "What may stand here", hidden: true });
    const { area } = editor;
    area.after(this.list);
    area.setAttribute("aria-autocomplete", "list");
    area.setAttribute("aria-haspopup", "listbox");
    area.setAttribute("aria-controls", this.list.id);
    area.addEventListener("keydown", (event) => this.key(event), { capture: true });
    area.addEventListener("input", (event) => this.typed(/** @type {InputEvent} */ (event)));
    area.addEventListener("blur", () => this.close());
    area.addEventListener("click", () => this.close());
    area.addEventListener("scroll", () => this.close());
  }

  get open() {
    return !this.list.hidden;
  }

  /**
   * Offer what may stand at the caret.
   * @param {boolean} [asked] whether it was asked for by a key: then also where nothing is written yet
   */
  offer(asked = false) {
    const { area, text } = this.editor;
    const writing = area.selectionStart === area.selectionEnd ? writingAt(text, area.selectionStart) : null;
    if (writing === null || (!asked && writing.word === "")) return this.close();
    const word = writing.word.toLowerCase();
    const found = this.possible(writing).filter((one) => one.text.toLowerCase().includes(word));
    found.sort((one, other) => Number(other.text.toLowerCase().startsWith(word)) - Number(one.text.toLowerCase().startsWith(word)));
    if (found.length === 0 || (found.length === 1 && found[0].text === writing.word)) return this.close(asked ? "Nothing is known to stand here." : "");
    this.offers = found.slice(0, MOST);
    this.start = writing.start;
    this.show();
  }

  /**
   * @param {import("./caret.js").Writing} writing
   * @returns {Offer[]}
   */
  possible(writing) {
    const tree = this.tree();
    const { path, key } = writing;
    const value = path.reduce((/** @type {any} */ here, step) => here?.[step], tree);
    const piece = path.length === 0 ? this.schema.root : this.schema.at(path.slice(0, -1), tree);
    const own = path.length === 0 ? piece : piece && this.schema.inside(piece, path[path.length - 1], value);
    if (!own) return [];
    return key === null ? this.keyOffers(own, value) : this.valueOffers(own, value, key, tree);
  }

  /**
   * @param {any} piece
   * @param {any} value
   * @returns {Offer[]}
   */
  keyOffers(piece, value) {
    const given = new Set(isRecord(value) ? Object.keys(value) : []);
    const keys = [...this.schema.keys(piece, value)].filter(([key]) => !given.has(key));
    return keys.map(([key, one]) => ({ text: key, says: first(one.description), insert: `${key}: ` }));
  }

  /**
   * @param {any} piece
   * @param {any} value
   * @param {string} key
   * @param {any} tree
   * @returns {Offer[]}
   */
  valueOffers(piece, value, key, tree) {
    const own = this.schema.keys(piece, value).get(key) ?? this.schema.inside(this.schema.chosen(piece, value), key, value);
    if (!own) return [];
    const found = this.schema.resolved(own);
    const words = valuesFor(found, key, tree, this.schema).map((text) => ({ text, says: "", insert: text }));
    const examples = (found.examples ?? []).filter((/** @type {any} */ one) => typeof one !== "object").map(String);
    const shown = examples.filter((/** @type {string} */ text) => words.length === 0 && text !== "");
    return [...words, ...shown.map((/** @type {string} */ text) => ({ text, says: "an example", insert: text }))];
  }

  show() {
    this.chosen = 0;
    fill(this.list, ...this.offers.map((one, position) => this.entry(one, position)));
    this.list.hidden = false;
    this.place();
    this.choose(0);
    this.spoken.textContent = this.offers.length === 1 ? "1 suggestion" : `${this.offers.length} suggestions`;
  }

  /** @param {string} [said] */
  close(said = "") {
    if (said !== "") this.spoken.textContent = said;
    if (!this.open) return;
    this.list.hidden = true;
    this.editor.area.removeAttribute("aria-activedescendant");
    this.spoken.textContent = said;
  }

  /**
   * @param {Offer} offer
   * @param {number} position
   */
  entry(offer, position) {
    const taken = (/** @type {Event} */ event) => {
      event.preventDefault();
      this.take(position);
    };
    return element(
      "li",
      { id: `${this.list.id}-${position}`, role: "option", "aria-selected": "false", on: { mousedown: taken } },
      element("bdi", { text: offer.text }),
      offer.says === "" ? null : element("span", { class: "says", text: offer.says }),
    );
  }

  /** @param {number} position */
  choose(position) {
    const entries = [...this.list.children];
    entries[this.chosen]?.setAttribute("aria-selected", "false");
    this.chosen = (position + entries.length) % entries.length;
    const entry = entries[this.chosen];
    entry.setAttribute("aria-selected", "true");
    entry.scrollIntoView({ block: "nearest" });
    this.editor.area.setAttribute("aria-activedescendant", entry.id);
  }

  /** @param {number} position */
  take(position) {
    const offer = this.offers[position];
    const end = this.editor.area.selectionStart;
    this.close();
    this.editor.replace(this.start, end, offer.insert);
    this.close();
  }

  /** Put the list below the caret, or above it where there is no room. */
  place() {
    const { area } = this.editor;
    const style = getComputedStyle(area);
    const before = this.editor.text.slice(0, this.start).split("\n");
    const line = this.editor.lineHeight;
    const wide = widthOf(before[before.length - 1], style.font);
    const left = area.offsetLeft + Number.parseFloat(style.paddingLeft) + wide - area.scrollLeft;
    const top = area.offsetTop + Number.parseFloat(style.paddingTop) + before.length * line - area.scrollTop;
    const most = area.offsetLeft + area.clientWidth - this.list.offsetWidth;
    const below = top + this.list.offsetHeight <= area.offsetTop + area.clientHeight;
    this.list.style.left = `${Math.max(0, Math.min(left, most))}px`;
    this.list.style.top = `${below ? top : Math.max(0, top - line - this.list.offsetHeight)}px`;
  }

  /** @param {InputEvent} event */
  typed(event) {
    if (event.inputType === "insertText" && event.data !== null && event.data.length === 1 && /\S/.test(event.data)) this.offer();
    else if (event.inputType === "deleteContentBackward" && this.open) this.offer();
    else this.close();
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    const { key } = event;
    const asked = key === " " && event.ctrlKey;
    if (!this.open && !asked) return;
    const moves = { ArrowDown: this.chosen + 1, ArrowUp: this.chosen - 1 };
    if (asked) this.offer(true);
    else if (key in moves) this.choose(moves[/** @type {"ArrowUp"} */ (key)]);
    else if (key === "Enter" || key === "Tab") this.take(this.chosen);
    else if (key === "Escape") this.close();
    else {
      if (key === "ArrowLeft" || key === "ArrowRight" || key === "Home" || key === "End") this.close();
      return;
    }
    event.preventDefault();
    event.stopImmediatePropagation();
  }
}

/** @param {string|undefined} description */
function first(description) {
  return (description ?? "").split(/(?<=[.;:]) /)[0];
}

/** @type {CanvasRenderingContext2D|null} */
let pen = null;

/**
 * @param {string} text
 * @param {string} font
 */
function widthOf(text, font) {
  pen ??= document.createElement("canvas").getContext("2d");
  if (pen === null) return 0;
  pen.font = font;
  return pen.measureText(text).width;
}
