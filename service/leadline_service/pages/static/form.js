// The guided form of a study: made from the schema and the text as read, kept in step with it.

import { announce, element, fill, rested } from "./elements.js";
import { at, valueAt, words } from "./fields.js";
import { partOf } from "./groups.js";

/** @typedef {import("./schema.js").Step} Step */
/** @typedef {{path: Step[], code: string, detail: string, line?: number|null, column?: number|null}} Wrong */
/** @typedef {{input?: HTMLElement, error: HTMLElement|null, box: HTMLElement}} Place */

const PARTS = ["title", "about", "ask", "vehicle", "legs", "requirements", "dependence", "options", "propellants", "sources", "notes"];
/** Parts that stand in the form even where the study has none yet. */
const ALWAYS = new Set(["title", "ask", "vehicle", "legs", "requirements", "options"]);
const PAUSE_MS = 300;

/** The form beside the text. */
export class Form {
  /**
   * @param {HTMLElement} place where it is made
   * @param {HTMLElement} index where the links to its parts go
   * @param {import("./schema.js").Schema} schema
   * @param {{edit: (edits: any[]) => Promise<void>, begun: () => void, goToText: (path: Step[]) => void, spoken: HTMLElement}} study
   */
  constructor(place, index, schema, study) {
    this.place = place;
    this.index = index;
    this.schema = schema;
    this.study = study;
    /** @type {any} */
    this.tree = {};
    /** @type {Wrong[]} */
    this.errors = [];
    /** Which entries are unfolded. @type {Set<string>} */
    this.open = new Set();
    /** @type {Map<string, Place>} */
    this.places = new Map();
    /** What was typed and is not in the text yet. @type {Map<string, {path: Step[], value: any, optional: boolean}>} */
    this.waiting = new Map();
    this.signature = "";
    this.focus = "";
    this.send = rested(() => this.flush(), PAUSE_MS);
    place.addEventListener("focusout", () => this.send.now());
  }

  /**
   * Show a study as it is read, and what is wrong with it.
   * @param {any} tree
   * @param {Wrong[]} errors
   */
  show(tree, errors) {
    this.tree = tree;
    this.errors = errors;
    const old = this.places;
    this.places = new Map();
    const parts = this.sections(tree);
    const signature = [...parts].map((part) => outline(part)).join("");
    if (signature === this.signature) this.patch(old, parts);
    else this.renew(parts);
    this.signature = signature;
    this.tell(errors);
  }

  /**
   * Say that the text cannot be read, so that the form stands as it was.
   * @param {Wrong[]} errors
   */
  tell(errors) {
    this.errors = errors;
    for (const { input, error, box } of this.places.values()) {
      if (error !== null) error.textContent = "";
      input?.removeAttribute("aria-invalid");
      box.classList.remove("wrong");
    }
    for (const wrong of errors) this.blame(wrong);
  }

  /**
   * Unfold and focus the field of a path, or of what encloses it.
   * @param {Step[]} path
   * @returns {boolean} whether there is one
   */
  goTo(path) {
    path.forEach((_, depth) => this.open.add(at(path.slice(0, depth + 1))));
    this.refresh();
    for (let depth = path.length; depth > 0; depth -= 1) {
      const found = this.places.get(at(path.slice(0, depth)));
      if (found === undefined) continue;
      found.box.scrollIntoView({ block: "nearest" });
      (found.input ?? found.box.querySelector("summary, input, select, button"))?.focus();
      return true;
    }
    return false;
  }

  /** Make the form anew from what was read last, as something was folded or unfolded. */
  refresh() {
    this.show(this.tree, this.errors);
  }

  // What fields ask of the form that holds them.

  /**
   * @param {Step[]} path
   * @param {any} value
   * @param {string} key
   * @param {boolean} optional whether it is taken out where nothing is left of it
   */
  typed(path, value, key, optional) {
    this.study.begun();
    this.waiting.set(key, { path, value, optional });
    this.send();
  }

  /**
   * @param {any[]} edits
   * @param {string} [said]
   * @param {string} [focus] mark of what is focused once the form is made anew
   */
  async change(edits, said = "", focus = "") {
    this.study.begun();
    await this.flush();
    this.focus = focus;
    await this.study.edit(edits);
    announce(this.study.spoken, said);
  }

  /** @param {Step[]} path */
  goToText(path) {
    this.study.goToText(path);
  }

  /**
   * @param {Step[]} path
   * @param {Place} parts
   */
  register(path, parts) {
    this.places.set(at(path), parts);
  }

  /** Send what was typed. */
  async flush() {
    this.send.drop();
    if (this.waiting.size === 0) return;
    const edits = [...this.waiting.values()].flatMap(({ path, value, optional }) => {
      if (value !== "" || !optional) return [{ op: "set", place: path, value }];
      return valueAt(this.tree, path) === undefined ? [] : [{ op: "remove", place: path }];
    });
    this.waiting.clear();
    await this.study.edit(edits);
  }

  /**
   * @private
   * @param {any} tree
   */
  sections(tree) {
    const { properties } = this.schema.root;
    const shown = PARTS.filter((key) => ALWAYS.has(key) || tree?.[key] !== undefined);
    const strange = Object.keys(tree ?? {}).filter((key) => properties[key] === undefined);
    const made = shown.map((key) => {
      const part = partOf(this, properties[key], tree?.[key] ?? undefined, [key], words(key));
      part.id = `part-${key}`;
      return part;
    });
    return [...made, ...strange.map((key) => partOf(this, {}, tree[key], [key], key))];
  }

  /**
   * @private
   * @param {HTMLElement[]} parts
   */
  renew(parts) {
    const held = document.activeElement;
    const inside = held instanceof HTMLElement && this.place.contains(held);
    const mark = this.focus || (inside ? held.dataset.at : "");
    const caret = inside && held instanceof HTMLInputElement ? held.selectionStart : null;
    fill(this.place, ...parts);
    this.restore();
    this.focus = "";
    fill(this.index, ...parts.filter((part) => part.id !== "").map((part) => element("a", { href: `#${part.id}`, text: words(part.id.slice(5)) })));
    if (mark) this.refocus(mark, caret);
  }

  /**
   * @private
   * @param {string} mark
   * @param {number|null} caret
   */
  refocus(mark, caret) {
    const found = [...this.place.querySelectorAll("[data-at]")].find((one) => /** @type {HTMLElement} */ (one).dataset.at === mark);
    if (found === undefined) return;
    const target = found.matches("input, select, button, summary") ? found : found.querySelector("summary, input, select, button");
    if (!(target instanceof HTMLElement)) return;
    target.focus();
    if (caret !== null && target instanceof HTMLInputElement) target.setSelectionRange(caret, caret);
  }

  /**
   * Put new values into inputs that stand already, but into none that is being written in.
   * @private
   * @param {Map<string, Place>} old
   * @param {HTMLElement[]} parts
   */
  patch(old, parts) {
    for (const [key, { input }] of this.places) {
      const own = old.get(key)?.input;
      if (!(own instanceof HTMLInputElement) || !(input instanceof HTMLInputElement)) continue;
      if (own !== document.activeElement && !this.waiting.has(key)) own.value = input.value;
    }
    this.patchSummaries(parts);
    this.places = old;
    this.focus = "";
  }

  /**
   * @private
   * @param {HTMLElement[]} parts
   */
  patchSummaries(parts) {
    const made = parts.flatMap((part) => [...part.querySelectorAll("summary")]);
    [...this.place.querySelectorAll("summary")].forEach((own, position) => own.replaceChildren(...(made[position]?.childNodes ?? [])));
  }

  /**
   * Put back what was typed and is not in the text yet.
   * @private
   */
  restore() {
    for (const [key, { value }] of this.waiting) {
      const input = this.places.get(key)?.input;
      if (input instanceof HTMLInputElement) input.value = Array.isArray(value) ? value.join(", ") : String(value);
    }
  }

  /**
   * Show an error at its field, or at the nearest that encloses it.
   * @private
   * @param {Wrong} wrong
   */
  blame(wrong) {
    const missing = /^"([^"]+)" is missing/.exec(wrong.detail)?.[1];
    const path = missing === undefined ? wrong.path : [...wrong.path, missing];
    let told = false;
    for (let depth = path.length; depth > 0; depth -= 1) {
      const found = this.places.get(at(path.slice(0, depth)));
      if (found === undefined) continue;
      if (depth === path.length || !told) found.input?.setAttribute("aria-invalid", "true");
      if (!told && found.error !== null) {
        const empty = found.box.matches("fieldset") && (valueAt(this.tree, path) ?? null) === null;
        found.error.textContent = [found.error.textContent, empty ? "Nothing stands here yet." : wrong.detail].filter((text) => text !== "").join(" ");
        told = true;
      }
      found.box.classList.add("wrong");
    }
  }
}

/**
 * Write down what a part of the form is made of, without the values in its inputs.
 * @param {Element} part
 * @returns {string}
 */
function outline(part) {
  const own = part.matches("input, select, summary, fieldset, [data-at]") ? /** @type {HTMLElement} */ (part).dataset.at : "";
  const chosen = part instanceof HTMLSelectElement ? `=${part.value}/${part.length}` : "";
  const shown = part.matches("bdi, .label") ? part.textContent : part.matches("option") ? part.getAttribute("value") : "";
  return `<${part.tagName}${own ?? ""}${chosen}${shown}${[...part.children].map(outline).join("")}>`;
}
