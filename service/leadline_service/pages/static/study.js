// The screen on which a study is written, looked over, saved and run.

import { post, read, send, sentenceOf } from "./api.js";
import { announce, button, byId, element, fill, named, rested } from "./elements.js";
import { Completion } from "./complete.js";
import { Draft } from "./draft.js";
import { Form } from "./form.js";
import { lineOf } from "./caret.js";
import { amount, countOf } from "./numbers.js";
import { Schema } from "./schema.js";
import { TextEditor } from "./text.js";
import { Writing } from "./writing.js";

const NAME = /^[A-Za-z0-9][A-Za-z0-9._-]{0,199}$/;
const main = byId("main");
const spoken = byId("announce");
const nameInput = byId("study-name");

const schema = new Schema(await read("/v1/schema"));
const origin = main.dataset.name || `new${location.search}`;
const begun = byId("study-text").value;
const draft = new Draft(origin, main.dataset.content);

const editor = new TextEditor(byId("study-text"), byId("text-lines"), (text) => writing.typed(text));
const writing = new Writing(editor.text, {
  show: (text) => editor.show(text),
  read: (answer) => show(answer),
  kept: (text) => keep(text),
  trouble: (error) => tell(sentenceOf(error)),
});
const form = new Form(byId("study-form"), byId("form-places"), schema, {
  edit: (edits) => writing.edit(edits),
  begun: () => (main.dataset.text = "changed"),
  goToText: (path) => goToText(lineOf(editor.text, path)),
  spoken,
});
new Completion(editor, schema, () => writing.tree, spoken);
const overlook = rested(() => {
  // What was typed since is read first, and leads here again.
  if (main.dataset.text === "read") look().catch((error) => nothingSaid(sentenceOf(error)));
}, 700);

start();

function start() {
  byId("sides").before(undoing());
  for (const one of document.querySelectorAll("button[data-show]")) one.addEventListener("click", () => showSide(one.dataset.show));
  byId("study-head").addEventListener("submit", (event) => event.preventDefault());
  byId("run-form").addEventListener("submit", (event) => event.preventDefault());
  editor.area.addEventListener("blur", () => writing.look.now());
  byId("check").addEventListener("click", () => guarded(byId("check"), overlooked));
  byId("save").addEventListener("click", () => guarded(byId("save"), save));
  byId("run").addEventListener("click", () => guarded(byId("run"), () => run(null)));
  byId("compare-options").addEventListener("click", () => guarded(byId("compare-options"), () => run(optionsOf())));
  byId("issues").addEventListener("click", (event) => goToIssue(event.target.closest("button")));
  if (matchMedia("(max-width: 60rem)").matches) showSide("form");
  const kept = draft.found();
  if (kept !== null && kept.text !== editor.text) restore(kept);
  else void writing.check();
}

/** Buttons that take a change back, or make it again. */
function undoing() {
  const undo = button("Undo", () => writing.undo(), { id: "undo" });
  const redo = button("Redo", () => writing.redo(), { id: "redo" });
  document.querySelector(".editor")?.after(element("p", { class: "facts", text: "Ctrl+Space offers what may stand at the caret. Tab indents once something was typed; Esc, then Tab, moves on." }));
  return element("p", { class: "actions undoing" }, undo, redo);
}

/**
 * Show what was read from the text.
 * @param {import("./writing.js").Answer} answer
 */
function show(answer) {
  tell("");
  // What a study lacks that nobody has begun is no mistake yet.
  if (isBlank()) answer = { ...answer, errors: [] };
  if (answer.tree !== null) form.show(answer.tree, answer.errors);
  else form.tell(answer.errors);
  editor.mark(answer.errors);
  list(answer.errors);
  choices();
  byId("undo").disabled = !writing.past.canUndo && writing.past.now === writing.text;
  byId("redo").disabled = !writing.past.canRedo;
  if (isBlank()) nothingSaid("Give it a title, an element with an engine and a tank, its legs, and what must hold. Or begin with one of the studies on the first page.");
  else if (answer.errors.length === 0) overlook();
  else nothingSaid("Shown once nothing is left to be put right.");
  main.dataset.text = "read";
}

/** Whether this is a new study that nothing was written in. */
function isBlank() {
  return main.dataset.name === "" && begun === writing.text && !/\S/.test(location.search);
}

/** @param {import("./form.js").Wrong[]} errors */
function list(errors) {
  const rows = errors.map((one) => {
    const where = one.line ? `line ${one.line}: ` : "";
    return element("li", {}, element("button", { type: "button", dataset: { line: one.line ?? "", column: one.column ?? "", pointer: JSON.stringify(one.path) } }, where, element("bdi", { text: one.detail })));
  });
  fill(byId("issues"), ...rows);
  announce(byId("issues-count"), errors.length === 0 ? "nothing" : errors.length === 1 ? "1 thing" : `${errors.length} things`);
}

/** @param {HTMLElement|null} chosen */
function goToIssue(chosen) {
  if (chosen === null) return;
  const { line, column, pointer } = chosen.dataset;
  const path = pointer?.startsWith("[") ? JSON.parse(pointer) : [];
  if (byId("sides").dataset.shown === "form" && form.goTo(path)) return;
  goToText(Number(line) || lineOf(editor.text, path), Number(column) || 1);
}

/**
 * @param {number} line
 * @param {number} [column]
 */
function goToText(line, column = 1) {
  if (byId("sides").dataset.shown === "form") showSide(matchMedia("(max-width: 60rem)").matches ? "text" : "both");
  editor.goTo(line, column);
  editor.area.scrollIntoView({ block: "nearest" });
}

/** @param {string} side */
function showSide(side) {
  byId("sides").dataset.shown = side;
  for (const one of document.querySelectorAll("button[data-show]")) one.setAttribute("aria-pressed", String(one.dataset.show === side));
}

/** Offer the options that the study has now. */
function choices() {
  const select = byId("run-option");
  const chosen = select.value;
  const options = optionsOf();
  const made = options.map((name) => element("option", { value: name, text: name.length > 60 ? `${name.slice(0, 59)}…` : name }));
  fill(select, element("option", { value: "", text: "none" }), ...made);
  select.value = options.includes(chosen) ? chosen : "";
  byId("compare-options").hidden = options.length === 0;
}

function optionsOf() {
  const { options } = writing.tree ?? {};
  return typeof options === "object" && options !== null && !Array.isArray(options) ? Object.keys(options) : [];
}

/** @param {string} why there is no median case to show */
function nothingSaid(why) {
  overlook.drop();
  fill(byId("median"), element("p", { class: "facts", text: why }));
}

/** Look the study over because somebody asks for it. */
async function overlooked() {
  if (!(await soundNow())) return tell("First put right what is listed below the text.");
  await look();
  said("Looked over; the median case is shown below.");
}

/** Fly the median case, and show its margins. */
async function look() {
  overlook.drop();
  const { revision } = writing;
  const said = await send("POST", "/v1/studies:check", writing.text);
  if (revision !== writing.revision) return;
  const rows = said.nominal.requirements.map((one) => element("tr", {}, element("th", { scope: "row" }, named(one.name)), element("td", { class: "n", text: one.margin === null ? "not a number" : amount(one.margin, one.unit) }), element("td", { text: one.met ? "met" : "not met" })));
  const head = element("tr", {}, element("th", { scope: "col", text: "requirement" }), element("th", { scope: "col", class: "n", text: "margin in the median case" }), element("th", { scope: "col", text: "is" }));
  const table = element("table", {}, element("thead", {}, head), element("tbody", {}, ...rows));
  const listed = said.notes.map((/** @type {string} */ text) => element("li", {}, element("bdi", { text })));
  const notes = listed.length === 0 ? null : element("details", {}, element("summary", { text: listed.length === 1 ? "1 note" : `${listed.length} notes` }), element("ul", { class: "sources" }, ...listed));
  fill(byId("median"), element("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Margins of the median case" }, table), ...(notes === null ? [] : [notes]));
}

/** Save the text as the newest version of its name. */
async function save() {
  const name = nameInput.value.trim();
  if (!NAME.test(name)) {
    nameInput.setAttribute("aria-invalid", "true");
    nameInput.focus();
    return tell("Give the study a name first: letters, digits, dots, dashes, no spaces.");
  }
  nameInput.removeAttribute("aria-invalid");
  if (!(await soundNow())) return tell("The study is not saved yet: first put right what is listed below. The text is kept in this browser meanwhile.");
  const made = await send("PUT", `/v1/names/${encodeURIComponent(name)}`, writing.text);
  draft.drop();
  if (main.dataset.name !== made.name) history.replaceState(null, "", `/studies/${encodeURIComponent(made.name)}`);
  Object.assign(main.dataset, { name: made.name, version: made.version, content: made.content_id });
  Object.assign(draft, new Draft(made.name, made.content_id));
  nameInput.readOnly = true;
  fill(document.querySelector("h1"), named(made.title, 160));
  said(`Saved as ${made.name}, version ${made.version}.`);
  return made;
}

/**
 * Start a run, saved before where the study has a name, and go to it.
 * @param {string[]|null} compare
 */
async function run(compare) {
  const [cases, seed] = [countOf(byId("run-cases").value), countOf(byId("run-seed").value)];
  if (cases === null || cases < 1) return wrongNumber(byId("run-cases"), "Cases is a whole number, such as 100000.");
  if (seed === null) return wrongNumber(byId("run-seed"), "The seed is a whole number from 0.");
  if (!(await soundNow())) return tell("It cannot be run yet: first put right what is listed below.");
  const stored = nameInput.value.trim() === "" ? await send("POST", "/v1/studies", writing.text) : await save();
  if (stored === undefined) return;
  const option = byId("run-option").value || null;
  const answers = byId("run-drivers").checked ? [{ kind: "drivers" }] : [];
  const wanted = compare === null ? { option, answers } : { compare };
  const made = await post("/v1/runs", { study: stored.content_id, cases, seed, ...wanted });
  location.assign(`/runs/${made.run_id}`);
}

/** Send what is still being typed, and tell whether the study can be used. */
async function soundNow() {
  await form.flush();
  await writing.busy;
  await writing.check();
  return writing.sound;
}

/**
 * @param {HTMLInputElement} input
 * @param {string} text
 */
function wrongNumber(input, text) {
  input.setAttribute("aria-invalid", "true");
  input.focus();
  input.addEventListener("input", () => input.removeAttribute("aria-invalid"), { once: true });
  tell(text);
}

/** @param {string} text */
function keep(text) {
  main.dataset.text = "changed";
  if (!draft.keep(text, nameInput.value)) tell("This browser keeps no drafts: save before you leave the page.");
}

/** @param {import("./draft.js").Kept} kept */
function restore(kept) {
  const saved = editor.text;
  editor.show(kept.text);
  if (nameInput.value === "") nameInput.value = kept.name;
  writing.replace(kept.text);
  const when = new Date(kept.when).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });
  const stale = kept.content !== main.dataset.content ? " The study was saved again since." : "";
  const back = () => {
    draft.drop();
    writing.replace(saved);
    draft.drop();
    note.remove();
  };
  const note = element("p", { class: "partial", id: "draft-note" }, `This is your text of ${when}, which was not saved.${stale} `, button("Take the saved one instead", back));
  byId("sides").before(note);
}

/**
 * Run something that a button asks for, with the button out of use meanwhile.
 * @param {HTMLButtonElement} pressed
 * @param {() => Promise<any>} call
 */
async function guarded(pressed, call) {
  tell("");
  pressed.disabled = true;
  try {
    await call();
  } catch (error) {
    tell(sentenceOf(error));
  } finally {
    pressed.disabled = false;
    if (document.activeElement === document.body) pressed.focus();
  }
}

/** @param {string} text */
function tell(text) {
  announce(byId("problem"), text);
}

/** @param {string} text */
function said(text) {
  announce(spoken, text);
  const shown = byId("saved") ?? byId("study-head").appendChild(element("span", { id: "saved", class: "facts" }));
  shown.textContent = text;
}
