// The figures of a page: drawn in the page's colours when they come near the view, again when those change, and for print.

import { element } from "./elements.js";

/** @typedef {{data: any[], layout: any}} Spec */

const root = document.documentElement;
const ON_PAPER = "data-print";
const NEAR = "600px 0px";

/** What plotly.js may show beside a figure: nothing of its own, and no way to send data away. */
const CONFIG = { displayModeBar: false, displaylogo: false, showSendToCloud: false, plotlyServerURL: "", showTips: false };

/** @type {Promise<any>|null} */
let loading = null;

/**
 * Load the drawing library, once.
 *
 * Its own styles are put into the page by script, which the page's policy refuses. It leaves that alone where it finds
 * them there already: the sheet it knows by name, and elements with the ids that the server has found in it.
 * @returns {Promise<any>}
 */
export function plotly() {
  loading ??= loaded();
  return loading;
}

/** @returns {Promise<any>} */
async function loaded() {
  for (const id of (root.dataset.plotlyStyles ?? "").split(" ").filter((one) => one !== "")) document.head.append(element("meta", { id }));
  const sheet = element("link", { id: "plotly.js-style-global", class: "no-inline-styles", rel: "stylesheet", href: new URL("./plotly.css", import.meta.url).href });
  const script = element("script", { src: root.dataset.plotly ?? "/static/plotly.js" });
  await Promise.all([sheet, script].map(arrived));
  return /** @type {any} */ (window).Plotly;
}

/**
 * Put an element that loads something into the page, and wait for it.
 * @param {HTMLElement} loader
 * @returns {Promise<void>}
 */
function arrived(loader) {
  return new Promise((resolve, reject) => {
    loader.addEventListener("load", () => resolve());
    loader.addEventListener("error", () => reject(new Error("The drawing library did not load.")));
    document.head.append(loader);
  });
}

/** Figures drawn on a page, and drawn again as it changes. */
export class Figures {
  /** @param {any} [config] */
  constructor(config = CONFIG) {
    this.config = { ...config, ...CONFIG };
    /** @type {Map<HTMLElement, Spec>} */
    this.specs = new Map();
    /** @type {Map<Element, number>} */
    this.widths = new Map();
    /** @type {any} */
    this.library = null;
    this.theme = /** @type {string|null} */ (null);
    this.frame = 0;
    this.near = new IntersectionObserver((seen) => this.met(seen), { rootMargin: NEAR });
    this.resized = new ResizeObserver((changed) => this.fit(changed.map(({ target }) => target)));
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.redraw());
    addEventListener("beforeprint", () => this.toPaper());
    addEventListener("afterprint", () => this.toScreen());
  }

  /**
   * Show a figure in a place: at once where it was drawn before, else when it comes near the view.
   * @param {HTMLElement} place
   * @param {Spec} spec
   */
  show(place, spec) {
    this.specs.set(place, spec);
    if (place.dataset.height) place.style.minHeight = `${place.dataset.height}px`;
    if (this.widths.has(place)) this.draw(place);
    else this.near.observe(place);
  }

  /**
   * Draw all that wait, a few at a time while nothing else is to be done, so that printing finds them drawn.
   * @returns {Promise<void>}
   */
  async rest() {
    await plotly();
    for (const place of this.specs.keys()) {
      if (this.widths.has(place) || !place.isConnected) continue;
      await idle();
      await this.first(place);
    }
    root.setAttribute("data-drawn", "");
  }

  /** Forget the places that are no longer on the page. */
  prune() {
    for (const place of [...this.specs.keys()]) {
      if (place.isConnected) continue;
      this.specs.delete(place);
      this.widths.delete(place);
      this.near.unobserve(place);
      this.resized.unobserve(place);
      this.library?.purge(place);
    }
  }

  /**
   * @private
   * @param {IntersectionObserverEntry[]} seen
   */
  met(seen) {
    for (const { target, isIntersecting } of seen) if (isIntersecting) this.first(/** @type {HTMLElement} */ (target));
  }

  /**
   * @private
   * @param {HTMLElement} place
   */
  async first(place) {
    this.near.unobserve(place);
    this.library = await plotly();
    if (this.widths.has(place)) return;
    this.draw(place);
    this.resized.observe(place);
  }

  /**
   * @private
   * @param {HTMLElement} place
   */
  draw(place) {
    const spec = this.specs.get(place);
    if (spec === undefined || this.library === null) return;
    const { data, layout } = painted(spec, getComputedStyle(root));
    layout.width = place.clientWidth;
    this.widths.set(place, place.clientWidth);
    this.library.react(place, data, layout, this.config);
  }

  /** @private */
  redraw() {
    for (const place of this.widths.keys()) this.draw(/** @type {HTMLElement} */ (place));
  }

  /**
   * One drawing pass a frame, however many figures changed their width in it.
   * @private
   * @param {Element[]} places
   */
  fit(places) {
    const changed = places.filter((place) => place.clientWidth > 0 && place.clientWidth !== this.widths.get(place));
    if (changed.length === 0) return;
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame(() => this.redraw());
  }

  /**
   * Printing wants light colours and the width of the paper before the first sheet is laid out.
   * @private
   */
  toPaper() {
    if (root.hasAttribute(ON_PAPER)) return;
    this.theme = root.getAttribute("data-theme");
    root.setAttribute("data-theme", "light");
    root.setAttribute(ON_PAPER, "");
    if (this.library === null) return;
    for (const place of this.specs.keys()) this.draw(place);
  }

  /** @private */
  toScreen() {
    if (!root.hasAttribute(ON_PAPER)) return;
    root.removeAttribute(ON_PAPER);
    if (this.theme === null) root.removeAttribute("data-theme");
    else root.setAttribute("data-theme", this.theme);
    this.redraw();
  }
}

/**
 * Let the save buttons of a part of a page save the figure each belongs to.
 * @param {ParentNode} within
 */
export function saveable(within) {
  for (const held of within.querySelectorAll("button[data-save]")) {
    const button = /** @type {HTMLButtonElement} */ (held);
    if (!button.hidden && button.dataset.ready) continue;
    button.hidden = false;
    button.dataset.ready = "yes";
    button.addEventListener("click", () => save(button));
  }
}

/** @param {HTMLButtonElement} button */
async function save(button) {
  const { save: format = "svg", for: id = "" } = button.dataset;
  const place = document.getElementById(id);
  if (place === null) return;
  const { clientWidth: width, clientHeight: height } = place;
  const library = await plotly();
  await library.downloadImage(place, { format, filename: id.replace(/-drawing$/, ""), width, height, scale: format === "png" ? 3 : 1 });
}

/**
 * Draw the figures that the page has places for.
 * @param {{figures: {name: string, spec: Spec}[], config: any}} given as GET /v1/runs/{id}/figures answers
 * @param {ParentNode} [within]
 * @returns {Figures}
 */
export function drawn(given, within = document) {
  const figures = new Figures(given.config);
  const specs = new Map(given.figures.map((one) => [one.name, one.spec]));
  for (const held of within.querySelectorAll(".drawing[data-figure]")) {
    const place = /** @type {HTMLElement} */ (held);
    const spec = specs.get(place.dataset.figure ?? "");
    if (spec !== undefined) figures.show(place, spec);
  }
  saveable(within);
  return figures;
}

/**
 * Replace the colours that a figure names by role ("@ink") by what the style sheet says they look like now.
 * @param {any} node
 * @param {CSSStyleDeclaration} style
 * @param {string} [key]
 * @returns {any}
 */
export function painted(node, style, key = "") {
  if (typeof node === "string") {
    const role = key.endsWith("color") && node.startsWith("@");
    return role ? style.getPropertyValue(`--${node.slice(1)}`).trim() : node;
  }
  if (Array.isArray(node)) return node.map((item) => painted(item, style));
  if (node === null || typeof node !== "object") return node;
  return Object.fromEntries(Object.entries(node).map(([name, value]) => [name, painted(value, style, name)]));
}

/** @returns {Promise<void>} */
function idle() {
  return new Promise((resolve) => ("requestIdleCallback" in window ? requestIdleCallback(() => resolve(), { timeout: 200 }) : setTimeout(resolve, 10)));
}
