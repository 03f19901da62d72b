// Draws the figures of a page in the page's colours, again when those change, and for print.
"use strict";
(() => {
  const root = document.documentElement;
  const { config, figures } = JSON.parse(document.getElementById("figures").textContent);
  const ON_PAPER = "data-print";

  // Figures name colours by role ("@ink"); the style sheet says what the role looks like now.
  const paint = (node, style, key = "") => {
    if (typeof node === "string") {
      const role = key.endsWith("color") && node.startsWith("@");
      return role ? style.getPropertyValue("--" + node.slice(1)).trim() : node;
    }
    if (Array.isArray(node)) return node.map((item) => paint(item, style));
    if (node === null || typeof node !== "object") return node;
    return Object.fromEntries(Object.entries(node).map(([k, v]) => [k, paint(v, style, k)]));
  };

  const draw = ({ id, spec }) => {
    const place = document.getElementById(id);
    const { data, layout } = paint(spec, getComputedStyle(root));
    layout.width = place.clientWidth;
    return Plotly.react(place, data, layout, config);
  };
  const drawAll = () => figures.forEach(draw);

  // Printing wants light colours and the width of the paper before the first sheet is laid out.
  let theme = null;
  const toPaper = () => {
    if (root.hasAttribute(ON_PAPER)) return;
    theme = root.getAttribute("data-theme");
    root.setAttribute("data-theme", "light");
    root.setAttribute(ON_PAPER, "");
    drawAll();
  };
  const toScreen = () => {
    if (!root.hasAttribute(ON_PAPER)) return;
    root.removeAttribute(ON_PAPER);
    if (theme === null) root.removeAttribute("data-theme");
    else root.setAttribute("data-theme", theme);
    drawAll();
  };
  addEventListener("beforeprint", toPaper);
  addEventListener("afterprint", toScreen);

  // One drawing pass a frame, however many figures changed their width in it.
  let pending = 0;
  const widths = new Map(figures.map(({ id }) => [id, 0]));
  const changed = ({ target }) => target.clientWidth !== widths.get(target.id);
  const observer = new ResizeObserver((entries) => {
    if (!entries.some(changed)) return;
    for (const { target } of entries) widths.set(target.id, target.clientWidth);
    cancelAnimationFrame(pending);
    pending = requestAnimationFrame(drawAll);
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", drawAll);

  for (const button of document.querySelectorAll("button[data-save]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const place = document.getElementById(button.dataset.figure);
      const { clientWidth: width, clientHeight: height } = place;
      const { save: format, figure: filename } = button.dataset;
      Plotly.downloadImage(place, { format, filename, width, height, scale: format === "png" ? 3 : 1 });
    });
  }

  drawAll();
  for (const { id } of figures) {
    const place = document.getElementById(id);
    widths.set(id, place.clientWidth);
    observer.observe(place);
  }
  root.setAttribute("data-drawn", "");
})();
