// Where in a study's text the caret stands: the path of the value or key that is being written.

/** @typedef {string|number} Step */

/**
 * What is being written at the caret. `path` is of the mapping or list it belongs to; `key` the key whose value it is,
 * or null while a key is written; `word` what stands before the caret already, `start` where that begins in the text.
 * @typedef {{path: Step[], key: string|null, word: string, start: number}} Writing
 */

/** @typedef {{indent: number, path: Step[]}} Level */

/**
 * Find out what is being written.
 * @param {string} text
 * @param {number} caret
 * @returns {Writing|null} null in a comment or a quoted text
 */
export function writingAt(text, caret) {
  const begin = text.lastIndexOf("\n", caret - 1) + 1;
  const before = text.slice(begin, caret);
  if (isHidden(before)) return null;
  const levels = levelsAbove(text.slice(0, begin));
  const { outside, flow } = opened(before);
  const dashes = /^( *)((?:- +)*)(.*)$/.exec(outside) ?? ["", "", "", ""];
  const indent = dashes[1].length + dashes[2].length;
  const within = enclosing(levels, indent, dashes[1].length, dashes[2] !== "");
  return flow === null ? inBlock(within, dashes[3], caret) : inFlow(within, dashes[3], flow, caret);
}

/**
 * Find the line on which a path's value begins.
 * @param {string} text
 * @param {Step[]} path
 * @returns {number} counted from 1; 1 where there is none
 */
export function lineOf(text, path) {
  let best = 1;
  let reached = 0;
  const lines = text.split("\n");
  /** @type {Level[]} */
  let levels = [];
  lines.forEach((line, position) => {
    levels = advanced(levels, line);
    const here = levels.at(-1)?.path ?? [];
    const common = here.findIndex((step, depth) => step !== path[depth]);
    const depth = common < 0 ? Math.min(here.length, path.length) : common;
    if (depth > reached) [reached, best] = [depth, position + 1];
  });
  return best;
}

/**
 * @param {Step[]} within
 * @param {string} rest of the line before the caret
 * @param {number} caret
 * @returns {Writing}
 */
function inBlock(within, rest, caret) {
  const found = /^("?)([^:#{[]*?)\1: +(.*)$/.exec(rest);
  if (found === null) return { path: within, key: null, word: rest, start: caret - rest.length };
  return { path: within, key: found[2], word: found[3], start: caret - found[3].length };
}

/**
 * @param {Step[]} within
 * @param {string} rest before the flow's first bracket
 * @param {{stack: (Step|null)[], word: string, key: string|null, list: boolean}} flow
 * @param {number} caret
 * @returns {Writing}
 */
function inFlow(within, rest, flow, caret) {
  const key = /^("?)([^:#]*?)\1: *$/.exec(rest)?.[2];
  const outer = key === undefined ? within : [...within, key];
  const path = [...outer, .../** @type {Step[]} */ (flow.stack.filter((step) => step !== null))];
  const word = flow.word.trimStart();
  if (flow.list) return { path: path.slice(0, -1), key: String(path.at(-1) ?? ""), word, start: caret - word.length };
  return { path, key: flow.key, word, start: caret - word.length };
}

/**
 * Split a line where its first bracket opens, and read the brackets that are open at its end.
 * @param {string} before
 */
function opened(before) {
  /** @type {{list: boolean, key: string|null, step: Step|null}[]} */
  const open = [];
  let first = before.length;
  let word = "";
  let quote = "";
  [...before].forEach((sign, position) => {
    if (quote !== "") {
      if (sign === quote) quote = "";
      return;
    }
    if (sign === '"' || sign === "'") quote = sign;
    const top = open.at(-1);
    if (sign === "{" || sign === "[") {
      if (open.length === 0 && !/(: *|- +|^ *)$/.test(before.slice(0, position))) return;
      if (open.length === 0) first = position;
      open.push({ list: sign === "[", key: null, step: top === undefined ? null : top.key });
      word = "";
    } else if ((sign === "}" || sign === "]") && top !== undefined) {
      open.pop();
      word = "";
    } else if (sign === "," && top !== undefined) {
      top.key = null;
      word = "";
    } else if (sign === ":" && top !== undefined && !top.list && top.key === null) {
      top.key = word.trim();
      word = "";
    } else word += sign;
  });
  const top = open.at(-1);
  if (top === undefined) return { outside: before, flow: null };
  const stack = open.map((one) => one.step);
  return { outside: before.slice(0, first), flow: { stack, word, key: top.key, list: top.list } };
}

/**
 * Read the levels of indentation that are open at the end of a text.
 * @param {string} text
 * @returns {Level[]}
 */
function levelsAbove(text) {
  return text.split("\n").reduce(advanced, /** @type {Level[]} */ ([]));
}

/**
 * @param {Level[]} levels
 * @param {string} line
 * @returns {Level[]}
 */
function advanced(levels, line) {
  const found = /^( *)((?:- +|-$)*)(.*)$/.exec(line.replace(/(^| )#.*$/, "").trimEnd());
  if (found === null || (found[2] === "" && found[3] === "")) return levels;
  let indent = found[1].length;
  let open = levels.filter((level) => level.indent < indent || (found[2] !== "" && level.indent === indent && typeof level.path.at(-1) === "string"));
  for (const dash of found[2].match(/- *|-$/g) ?? []) {
    const parent = open.at(-1)?.path ?? [];
    const last = levels.find((level) => level.indent === indent && typeof level.path.at(-1) === "number" && level.path.length === parent.length + 1);
    open = [...open, { indent, path: [...parent, last === undefined ? 0 : Number(last.path.at(-1)) + 1] }];
    indent += dash.length;
  }
  const key = /^("?)([^:#{[]*?)\1:( |$)/.exec(found[3]);
  if (key === null) return open;
  const siblings = open.filter((level) => level.indent < indent);
  return [...siblings, { indent, path: [...(siblings.at(-1)?.path ?? []), key[2]] }];
}

/**
 * Find the path of what encloses a line of an indentation.
 * @param {Level[]} levels
 * @param {number} indent of what is written
 * @param {number} margin of the line
 * @param {boolean} dashed whether the line begins an entry of a list
 * @returns {Step[]}
 */
function enclosing(levels, indent, margin, dashed) {
  if (!dashed) return levels.filter((level) => level.indent < indent).at(-1)?.path ?? [];
  const line = `${" ".repeat(margin)}- x:`;
  return advanced(levels, line).at(-1)?.path.slice(0, -1) ?? [];
}

/** @param {string} before */
function isHidden(before) {
  if (/(^| )#/.test(before)) return true;
  return (before.match(/"/g) ?? []).length % 2 === 1;
}
