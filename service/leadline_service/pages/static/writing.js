// A study while it is written: one text, which the form and the text area both change, and what is read from it.

import { post, Problem, stepsOf } from "./api.js";
import { rested } from "./elements.js";
import { History } from "./history.js";

/** @typedef {import("./schema.js").Step} Step */
/** @typedef {import("./form.js").Wrong} Wrong */
/** @typedef {{op: string, place: Step[], value?: any, to?: any}} Edit */
/** @typedef {{text: string, tree: any, errors: Wrong[]}} Answer */

const PAUSE_MS = 300;

/** The study that is being written. */
export class Writing {
  /**
   * @param {string} text
   * @param {{show: (text: string) => void, read: (answer: Answer) => void, kept: (text: string) => void, trouble: (error: unknown) => void}} page
   */
  constructor(text, page) {
    this.text = text;
    this.page = page;
    /** @type {any} */
    this.tree = {};
    /** @type {Wrong[]} */
    this.errors = [];
    /** How often the text has changed, so that an answer about an older one is known. */
    this.revision = 0;
    this.past = new History(text);
    /** @type {Promise<void>} */
    this.busy = Promise.resolve();
    this.look = rested(() => void this.check(), PAUSE_MS);
  }

  get sound() {
    return this.errors.length === 0;
  }

  /** @param {string} text as somebody has typed it */
  typed(text) {
    this.revision += 1;
    this.text = text;
    this.page.kept(text);
    this.look();
  }

  /** Read the text as it stands. */
  async check() {
    this.look.drop();
    const { revision } = this;
    try {
      const answer = await edited(this.text, []);
      if (revision === this.revision) this.take(answer);
    } catch (error) {
      if (revision === this.revision) this.page.trouble(error);
    }
  }

  /**
   * Change the text as the form asks, one change after another.
   * @param {Edit[]} edits
   * @returns {Promise<void>}
   */
  edit(edits) {
    this.busy = this.busy.then(() => this.apply(edits));
    return this.busy;
  }

  /** Take the last change back. */
  undo() {
    this.remember();
    this.put(this.past.undo());
  }

  /** Make the change again that was taken back. */
  redo() {
    this.put(this.past.redo());
  }

  /** @param {string} text in the place of the present one, which can be had back */
  replace(text) {
    this.remember();
    this.past.push(text);
    this.put(text);
  }

  /**
   * @private
   * @param {Edit[]} edits
   */
  async apply(edits) {
    for (let tries = 0; tries < 5; tries += 1) {
      const { revision } = this;
      try {
        const answer = await edited(this.text, edits.map((edit) => groundedIn(edit, this.tree)));
        // Something was typed meanwhile: the change is made to what stands there now.
        if (revision !== this.revision) continue;
        this.remember();
        this.past.push(answer.text);
        this.revision += 1;
        this.text = answer.text;
        this.page.kept(answer.text);
        this.page.show(answer.text);
        this.take(answer);
        return;
      } catch (error) {
        return this.page.trouble(error instanceof Problem && error.status === 422 ? inText(error) : error);
      }
    }
  }

  /** @private */
  remember() {
    if (this.past.now !== this.text) this.past.push(this.text);
  }

  /**
   * @private
   * @param {string} text
   */
  put(text) {
    this.revision += 1;
    this.text = text;
    this.page.kept(text);
    this.page.show(text);
    void this.check();
  }

  /**
   * @private
   * @param {Answer} answer
   */
  take(answer) {
    if (answer.tree !== null) this.tree = answer.tree;
    this.errors = answer.errors;
    this.page.read(answer);
  }
}

/**
 * Have a text edited and read.
 * @param {string} text
 * @param {Edit[]} edits
 * @returns {Promise<Answer>}
 */
export async function edited(text, edits) {
  const answer = await post("/v1/edit", { text, edits: edits.map(sent) });
  const errors = answer.issues.map((/** @type {any} */ one) => ({ ...one, path: pathOf(one.pointer, answer.tree) }));
  return { text: answer.text, tree: answer.tree, errors };
}

/**
 * Write an edit as the service takes it.
 * @param {Edit} edit
 */
function sent({ op, place, value, to }) {
  if (op === "insert") return { do: "add", at: place.slice(0, -1), value, before: place.at(-1) };
  if (op === "set") return { do: op, at: place, value };
  return to === undefined ? { do: op, at: place } : { do: op, at: place, to };
}

/**
 * Turn a pointer into a path: in a list its steps are positions.
 * @param {string|undefined} pointer
 * @param {any} tree
 * @returns {Step[]}
 */
function pathOf(pointer, tree) {
  let here = tree;
  return stepsOf(pointer).map((step) => {
    const key = Array.isArray(here) && /^\d+$/.test(step) ? Number(step) : step;
    here = here?.[key];
    return key;
  });
}

/** @param {Problem} error */
function inText(error) {
  return new Problem(`${error.message} Change it in the text.`, { status: error.status, flaws: error.flaws });
}

/**
 * Write what a change needs to stand in along with it, where that is not there yet.
 * @param {Edit} edit
 * @param {any} tree
 * @returns {Edit}
 */
function groundedIn(edit, tree) {
  if (edit.op !== "set" && edit.op !== "insert") return edit;
  const { place } = edit;
  const missing = place.findIndex((_, depth) => depth > 0 && isNothing(inside(tree, place.slice(0, depth))));
  if (missing < 0) return edit;
  const value = place.slice(missing).reduceRight((/** @type {any} */ held, step) => (typeof step === "number" ? [held] : { [step]: held }), edit.value);
  return { op: "set", place: place.slice(0, missing), value };
}

/**
 * @param {any} tree
 * @param {Step[]} path
 */
function inside(tree, path) {
  return path.reduce((/** @type {any} */ here, step) => here?.[step], tree);
}

/** @param {any} value */
function isNothing(value) {
  return value === undefined || value === null || value === "";
}
