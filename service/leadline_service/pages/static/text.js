// The text of a study: a plain text area with line numbers, marks where something is wrong, and the keys an editor has.

import { element, fill } from "./elements.js";

/** @typedef {{line?: number|null, column?: number|null, detail: string}} Mark */

const INDENT = "  ";

/** A text area for a study's text. */
export class TextEditor {
  /**
   * @param {HTMLTextAreaElement} area
   * @param {HTMLElement} gutter where the line numbers go
   * @param {(text: string) => void} changed told of every change that the user makes
   */
  constructor(area, gutter, changed) {
    this.area = area;
    this.gutter = gutter;
    this.changed = changed;
    /** Whether Tab indents: only after something was typed, so that Tab never holds anybody fast. */
    this.writing = false;
    /** @type {Map<number, string>} */
    this.marks = new Map();
    this.lines = 0;
    area.addEventListener("input", () => this.typed());
    area.addEventListener("scroll", () => this.follow());
    area.addEventListener("blur", () => (this.writing = false));
    area.addEventListener("keydown", (event) => this.key(event));
    this.number();
  }

  get text() {
    return this.area.value;
  }

  /**
   * Show another text, with the caret and the view where they were as far as that can be.
   * @param {string} text
   */
  show(text) {
    if (text === this.area.value) return;
    const { selectionStart, scrollTop, scrollLeft } = this.area;
    const shift = shiftOf(this.area.value, text, selectionStart);
    this.area.value = text;
    this.area.setSelectionRange(shift, shift);
    this.area.scrollTop = scrollTop;
    this.area.scrollLeft = scrollLeft;
    this.number();
  }

  /**
   * Mark the lines where something is wrong.
   * @param {Mark[]} marks
   */
  mark(marks) {
    this.marks = new Map(marks.filter((one) => one.line).map((one) => [Number(one.line), one.detail]));
    this.area.setAttribute("aria-invalid", String(marks.length > 0));
    this.lines = 0;
    this.number();
  }

  /**
   * Put the caret at a place and show it.
   * @param {number} line
   * @param {number} [column]
   */
  goTo(line, column = 1) {
    const lines = this.text.split("\n");
    const before = lines.slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
    const at = Math.min(before + column - 1, before + (lines[line - 1] ?? "").length);
    this.area.focus();
    this.area.setSelectionRange(at, at);
    this.area.scrollTop = Math.max(0, (line - 6) * this.lineHeight);
  }

  /**
   * Put a text in the place of a part of it, as if it had been typed: the browser can undo it.
   * @param {number} start
   * @param {number} end
   * @param {string} text
   */
  replace(start, end, text) {
    this.area.focus();
    this.area.setSelectionRange(start, end);
    // The one way to change a text area that its own undo knows of.
    const done = text === "" ? document.execCommand("delete") : document.execCommand("insertText", false, text);
    if (done) return;
    this.area.setRangeText(text, start, end, "end");
    this.typed();
  }

  get lineHeight() {
    return Number.parseFloat(getComputedStyle(this.area).lineHeight) || 20;
  }

  /** @private */
  typed() {
    this.writing = true;
    this.number();
    this.changed(this.text);
  }

  /** @private */
  follow() {
    this.gutter.scrollTop = this.area.scrollTop;
  }

  /** @private */
  number() {
    const lines = this.text.split("\n").length;
    if (lines !== this.lines) {
      const numbers = Array.from({ length: lines }, (_, position) => this.numbered(position + 1));
      fill(this.gutter, ...numbers);
      this.lines = lines;
    }
    this.follow();
  }

  /**
   * @private
   * @param {number} line
   */
  numbered(line) {
    const wrong = this.marks.get(line);
    if (wrong === undefined) return element("span", { text: line });
    return element("span", { class: "wrong", title: wrong, text: `× ${line}` });
  }

  /**
   * @private
   * @param {KeyboardEvent} event
   */
  key(event) {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") this.writing = false;
    if (event.key === "Tab" && this.writing) this.indent(event);
    if (event.key === "Enter" && !event.shiftKey) this.newLine(event);
    if (event.key === "Backspace") this.outdent(event);
  }

  /**
   * @private
   * @param {KeyboardEvent} event
   */
  indent(event) {
    event.preventDefault();
    const { selectionStart: start, selectionEnd: end } = this.area;
    const begin = this.text.lastIndexOf("\n", start - 1) + 1;
    if (!event.shiftKey && start === end) return this.replace(start, end, INDENT);
    const stop = end > start && this.text[end - 1] === "\n" ? end - 1 : end;
    const block = this.text.slice(begin, stop);
    const moved = event.shiftKey ? block.replace(/^ {1,2}/gm, "") : block.replace(/^(?=.)/gm, INDENT);
    this.replace(begin, stop, moved);
    const shift = event.shiftKey ? block.length - moved.length : 0;
    if (start === end) this.area.setSelectionRange(Math.max(begin, start - shift), Math.max(begin, start - shift));
    else this.area.setSelectionRange(begin, begin + moved.length);
  }

  /**
   * Begin a line as far in as the one above, or further where that opens something.
   * @private
   * @param {KeyboardEvent} event
   */
  newLine(event) {
    const { selectionStart: start, selectionEnd: end } = this.area;
    const line = this.text.slice(this.text.lastIndexOf("\n", start - 1) + 1, start);
    const margin = /^ */.exec(line)?.[0] ?? "";
    const opens = /^[^#]*:\s*(#.*)?$/.test(line);
    const entry = /^ *- /.test(line);
    if (margin === "" && !opens && !entry) return;
    event.preventDefault();
    this.replace(start, end, `\n${margin}${opens || entry ? INDENT : ""}`);
  }

  /**
   * @private
   * @param {KeyboardEvent} event
   */
  outdent(event) {
    const { selectionStart: start, selectionEnd: end } = this.area;
    const line = this.text.slice(this.text.lastIndexOf("\n", start - 1) + 1, start);
    if (start !== end || !/^ +$/.test(line) || line.length % 2 === 1) return;
    event.preventDefault();
    this.replace(start - 2, start, "");
  }
}

/**
 * Find where a place of one text lies in another that differs in one stretch.
 * @param {string} before
 * @param {string} after
 * @param {number} place
 */
function shiftOf(before, after, place) {
  let start = 0;
  const most = Math.min(before.length, after.length);
  while (start < most && before[start] === after[start]) start += 1;
  let tail = 0;
  while (tail < most - start && before.at(-1 - tail) === after.at(-1 - tail)) tail += 1;
  if (place <= start) return place;
  return place >= before.length - tail ? place + after.length - before.length : after.length - tail;
}
