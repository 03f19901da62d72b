// The screen on which changes are tried: every number can be moved, and the answer is on the same draws.

import { post, Problem, read, send, sentenceOf } from "./api.js";
import { announce, button, byId, element, fill, named } from "./elements.js";
import { History } from "./history.js";
import { amount, chance, count, points, share, signed } from "./numbers.js";
import { marginPicture, saying, standalone } from "./picture.js";
import { edited } from "./writing.js";

/** What is changed: the option taken, and what was typed or moved for each place. @typedef {{option: string, nominal: Record<string, string>, spread: Record<string, number>}} State */

/** How long is waited for the rest of what is being typed; what is whole already is asked for at once. */
const PAUSE_MS = 250;
const WHOLE = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?( \S+)?$/i;
const SHOWN = 8;
const main = byId("main");
const { study, seed, cases, name } = main.dataset;
const set = JSON.parse(main.dataset.set || "{}");
const past = new History(/** @type {State} */ ({ option: main.dataset.option, nominal: {}, spread: {} }));
const rows = [...byId("numbers").tBodies[0].rows];
let mark = "";
let marked = 0;
let timer = 0;
let busy = false;
let stale = true;
/** @type {any} */
let answer = null;

byId("numbers").addEventListener("input", (event) => moved(event.target));
byId("option-taken").addEventListener("change", () => put({ ...past.now, option: byId("option-taken").value }, "option"));
byId("filter").addEventListener("input", filter);
const redo = button("Redo", () => travel(past.redo()), { id: "redo", disabled: true });
byId("undo").after(" ", redo);
/** The answer once more, where a narrow page has no room to keep the whole of it in view. */
const brief = main.appendChild(element("p", { class: "brief", "aria-hidden": "true" }));
byId("undo").addEventListener("click", () => travel(past.undo()));
byId("reset").addEventListener("click", () => put({ option: main.dataset.option, nominal: {}, spread: {} }, "reset", true));
byId("save-option").addEventListener("click", () => void saveOption());
byId("save-option-form").addEventListener("submit", (event) => event.preventDefault());
byId("save-option").disabled = true;
document.addEventListener("keydown", shortcut);
if (name === "") byId("save-option-form").append(element("a", { href: `/studies/new?from=${study}`, text: "Save the study under a name first" }));
void ask();

/** @param {HTMLInputElement} input */
function moved(input) {
  const { place = "" } = input.closest("tr")?.dataset ?? {};
  const { nominal, spread, option } = past.now;
  if (input.dataset.part === "nominal") {
    const { [place]: _, ...others } = nominal;
    const typed = input.value.trim();
    const whole = typed === "" || (WHOLE.test(typed) && unitOf(typed) === unitOf(input.dataset.was ?? ""));
    put({ option, spread, nominal: typed === input.dataset.was || typed === "" ? others : { ...others, [place]: typed } }, `nominal ${place}`, false, whole ? 0 : PAUSE_MS);
  } else {
    const { [place]: _, ...others } = spread;
    put({ option, nominal, spread: Number(input.value) === 1 ? others : { ...others, [place]: Number(input.value) } }, `spread ${place}`);
  }
}

/** @param {string} text */
function unitOf(text) {
  return text.replace(/^[^ ]* ?/, "");
}

/**
 * Go on to another state; moving the same number on is one step to undo, not many.
 * @param {State} state
 * @param {string} what
 * @param {boolean} [shown] whether the inputs are to follow
 * @param {number} [pause_ms] what is waited for more before the answer is asked for
 */
function put(state, what, shown = false, pause_ms = 0) {
  const now = performance.now();
  if (what === mark && now - marked < 1500 && past.canUndo) past.replace(state);
  else past.push(state);
  [mark, marked] = [what, now];
  follow(shown, pause_ms);
}

/** @param {State} _state */
function travel(_state) {
  mark = "";
  follow(true);
}

/**
 * Bring the page in step with the state, and ask for its answer.
 * @param {boolean} shown
 * @param {number} [pause_ms]
 */
function follow(shown, pause_ms = 0) {
  const { nominal, spread, option } = past.now;
  for (const row of rows) {
    const { place = "" } = row.dataset;
    const [middle, wide] = ["nominal", "spread"].map((part) => /** @type {HTMLInputElement|null} */ (row.querySelector(`[data-part="${part}"]`)));
    if (shown && middle !== null) middle.value = nominal[place] ?? middle.dataset.was ?? "";
    if (shown && wide !== null) wide.value = String(spread[place] ?? 1);
    const told = wide?.nextElementSibling;
    if (told) told.textContent = String(spread[place] ?? 1);
    row.classList.toggle("changed", place in nominal || place in spread);
    middle?.removeAttribute("aria-invalid");
  }
  byId("option-taken").value = option;
  byId("undo").disabled = !past.canUndo;
  redo.disabled = !past.canRedo;
  byId("reset").disabled = isBase();
  stale = true;
  clearTimeout(timer);
  timer = setTimeout(() => void ask(), pause_ms);
}

function isBase() {
  const { nominal, spread, option } = past.now;
  return option === main.dataset.option && Object.keys(nominal).length + Object.keys(spread).length === 0;
}

/** @returns {{changes: any[], places: string[]}} */
function changesOf() {
  const { nominal, spread, option } = past.now;
  const moves = Object.entries(nominal).map(([place, to]) => ({ kind: "nominal", place, to }));
  const widths = Object.entries(spread).map(([place, times]) => ({ kind: "spread", place, times }));
  // Another option is flown instead of the run's, so the base of the difference is then the base study.
  const taken = option === main.dataset.option || option === "" ? [] : [{ kind: "option", name: option }];
  const changes = [...taken, ...moves, ...widths];
  return { changes, places: changes.map((one) => one.place ?? "") };
}

/** Ask for the answer to the present state; one question at a time, the newest next. */
async function ask() {
  if (busy) return;
  clearTimeout(timer);
  [busy, stale] = [true, false];
  const begun = performance.now();
  const { changes, places } = changesOf();
  byId("answer").dataset.answer = "waiting";
  try {
    const given = await post("/v1/try", { study, option: past.now.option === main.dataset.option ? main.dataset.option || null : null, set, changes, cases: Number(cases), seed: Number(seed) });
    answer = given;
    if (!stale) show(given, begun);
  } catch (error) {
    if (!stale) refused(error, places);
  }
  busy = false;
  delete byId("answer").dataset.answer;
  if (stale) void ask();
}

/**
 * @param {any} given
 * @param {number} begun
 */
function show(given, begun) {
  announce(byId("problem"), "");
  byId("sentence").textContent = given.sentence;
  byId("chance").textContent = isBase() ? `On ${count(given.cases.total)} cases.` : `Before: ${chance(given.base)}.`;
  byId("difference").textContent = isBase() ? "" : `Change: ${points(given.difference)}, on the same ${count(given.cases.total)} draws.`;
  brief.textContent = isBase() ? share(given.chance.value) : `${share(given.chance.value)}, change ${points(given.difference)}`;
  requirements(given.requirements);
  pictures(given.requirements);
  lists(given);
  changed(given.changed);
  byId("save-option").disabled = isBase() || name === "";
  byId("answer").dataset.took = String(Math.round(performance.now() - begun));
  byId("answer").dataset.changes = String(given.changed.length);
}

/** @param {any[]} all */
function requirements(all) {
  const made = all.map((one) => {
    const middle = one.margin?.quantiles.find((/** @type {any} */ each) => each.p === 0.5);
    const same = one.difference.value === 0;
    return element("tr", {},
      element("th", { scope: "row" }, named(one.name)),
      element("td", { class: "n", dataset: { label: "chance" }, text: share(one.chance.value) }),
      element("td", { class: "n", dataset: { label: "change, points" }, text: one.base === null ? "new" : same ? "same" : points(one.difference).replace(" points", "") }),
      element("td", { class: "n", dataset: { label: "median margin" }, text: middle === undefined ? "no valid case" : amount(middle.value, one.unit) }));
  });
  fill(byId("try-requirements"), ...made);
}

/** Draw the margins that matter: what fails most, and what the change moves most. @param {any[]} all */
function pictures(all) {
  const weight = (/** @type {any} */ one) => 1 - one.chance.value + Math.abs(one.difference.value);
  const shown = all.filter((one) => one.margin !== null).sort((one, other) => weight(other) - weight(one)).slice(0, SHOWN);
  const wide = Math.round(Math.max(280, Math.min(560, byId("try-figures").clientWidth)));
  const made = shown.flatMap((one) => {
    const picture = marginPicture(one, wide);
    return picture === null ? [] : [pictured(one, picture)];
  });
  const rest = all.length - made.length;
  const note = element("p", { class: "facts", text: `Filled: with the change; outline: before; hatched: it fails.${rest > 0 ? ` Drawn are the ${made.length} that fail most or move most; the table has all ${all.length}.` : ""}` });
  fill(byId("try-figures"), note, ...made);
}

/**
 * @param {any} one
 * @param {SVGElement} picture
 */
function pictured(one, picture) {
  const save = button("SVG", () => download(standalone(picture), `margin-${one.name}.svg`), { "aria-label": `Save the margin on ${one.name.slice(0, 60)} as SVG` });
  return element("figure", {}, element("p", { class: "title" }, named(one.name, 60)), picture, element("figcaption", { text: saying(one).replace(/^Margin on .*?”\. /s, "") }), element("p", { class: "tools" }, save));
}

/**
 * @param {string} text
 * @param {string} file
 */
function download(text, file) {
  const address = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
  element("a", { href: address, download: file.replace(/[^\w.-]+/g, "-").slice(0, 80) }).click();
  setTimeout(() => URL.revokeObjectURL(address), 1000);
}

/** @param {any} given */
function lists(given) {
  const failures = given.first_failures.map((/** @type {any} */ one) => element("li", {}, named(one.requirement), one.leg === null ? " before the first leg" : " in ", one.leg === null ? null : named(one.leg), `: ${share(one.share)} of the failures`));
  fill(byId("try-failures"), ...(failures.length > 0 ? failures : [element("li", { text: "Nothing: no case fails." })]));
  const drivers = given.shifts.map((/** @type {any} */ one) => element("li", {}, named(one.called), `: ${shiftWords(one)}`));
  fill(byId("try-drivers"), ...(drivers.length > 0 ? drivers : [element("li", { text: "No case fails, so there is nothing to compare." })]));
}

/** @param {any} one */
function shiftWords(one) {
  const by = signed(Math.abs(one.shift.value), 2).replace("+", "");
  const doubt = one.distinguishable ? "" : ", which may be chance";
  return `${one.direction} in failing cases by ${by} standard deviations${doubt}`;
}

/** @param {string[]} words */
function changed(words) {
  const { changes } = changesOf();
  const made = words.map((text, position) => element("li", {}, element("bdi", { text }), " ", button("take back", () => takeBack(changes[position]), { "aria-label": `Take back: ${text.slice(0, 80)}` })));
  fill(byId("changes"), ...made);
}

/** @param {any} change */
function takeBack(change) {
  const { option, nominal, spread } = past.now;
  const without = (/** @type {Record<string, any>} */ all) => Object.fromEntries(Object.entries(all).filter(([place]) => place !== change.place));
  put({ option: change.kind === "option" ? main.dataset.option : option, nominal: change.kind === "nominal" ? without(nominal) : nominal, spread: change.kind === "spread" ? without(spread) : spread }, "back", true);
  byId("undo").focus();
}

/**
 * Show what is wrong at the number it is about; the answer stays that of the state before.
 * @param {unknown} error
 * @param {string[]} places
 */
function refused(error, places) {
  announce(byId("problem"), sentenceOf(error));
  if (!(error instanceof Problem)) return;
  for (const flaw of error.flaws) {
    const position = Number(/^#\/changes\/(\d+)/.exec(flaw.pointer ?? "")?.[1] ?? -1);
    const row = rows.find((one) => one.dataset.place === places[position]);
    row?.querySelector('[data-part="nominal"]')?.setAttribute("aria-invalid", "true");
  }
}

/** Write the changes into the study as an option, and save that as its newest version. */
async function saveOption() {
  const input = byId("option-name");
  const called = input.value.trim();
  const wrong = called === "" || called.includes(".") || called.length > 60;
  input.setAttribute("aria-invalid", String(wrong));
  if (wrong) {
    input.focus();
    return announce(byId("problem"), "An option has a name of up to 60 signs, without dots.");
  }
  try {
    const newest = await read(`/v1/names/${encodeURIComponent(name)}`);
    const { text } = await read(`/v1/studies/${newest.content_id}`);
    const { tree } = await edited(text, []);
    if (tree?.options?.[called] !== undefined) {
      input.setAttribute("aria-invalid", "true");
      return announce(byId("problem"), `The study has an option “${called}” already. Choose another name.`);
    }
    const own = past.now.option === main.dataset.option ? tree?.options?.[main.dataset.option] : {};
    const values = { ...own, ...set, ...answer.values };
    const held = tree?.options ? { place: ["options", called], value: values } : { place: ["options"], value: { [called]: values } };
    const made = await edited(text, [{ op: "set", ...held }]);
    const saved = await send("PUT", `/v1/names/${encodeURIComponent(name)}`, made.text);
    announce(byId("problem"), "");
    const note = byId("saved") ?? byId("save-option-form").appendChild(element("span", { id: "saved", class: "facts" }));
    fill(note, "Saved as an option in ", element("a", { href: `/studies/${encodeURIComponent(name)}`, text: `version ${saved.version}` }), " of the study.");
    announce(byId("announce"), note.textContent);
  } catch (error) {
    announce(byId("problem"), sentenceOf(error));
  }
}

function filter() {
  const wanted = byId("filter").value.trim().toLowerCase();
  for (const row of rows) row.hidden = wanted !== "" && !row.textContent.toLowerCase().includes(wanted) && !row.classList.contains("changed");
}

/** @param {KeyboardEvent} event */
function shortcut(event) {
  const target = /** @type {HTMLElement} */ (event.target);
  if (!(event.ctrlKey || event.metaKey) || event.altKey || event.key.toLowerCase() !== "z" || target.matches("input:not([type=range])")) return;
  event.preventDefault();
  if (event.shiftKey ? past.canRedo : past.canUndo) travel(event.shiftKey ? past.redo() : past.undo());
}
