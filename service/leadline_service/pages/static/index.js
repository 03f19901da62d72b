// The list of studies and runs, kept fresh while a run goes on.

import { pause } from "./api.js";
import { byId, element } from "./elements.js";
import { fetched, renew } from "./rows.js";

const EVERY_MS = 2000;
const GOING_ON = '[data-state="queued"], [data-state="running"], [data-state="stopping"]';
const DRAFTS = "leadline.draft.new";

const runs = byId("runs");
if (runs !== null) void keepFresh();
marking();
drafts();

/** Ask for the page again and again, as long as a run goes on and somebody looks. */
async function keepFresh() {
  while (runs.querySelector(GOING_ON) !== null) {
    await pause(EVERY_MS);
    if (document.hidden) continue;
    const page = await fetched(location.href).catch(() => null);
    if (page === null) continue;
    for (const [id, key] of [["runs", "run"], ["studies", "study"]]) {
      const [own, fresh] = [byId(id), page.getElementById(id)];
      if (own !== null && fresh !== null) renew(own, /** @type {HTMLTableElement} */ (fresh), key);
    }
  }
}

/** Say at the button how many runs are marked; fewer than two cannot be put side by side. */
function marking() {
  const held = byId("compare-form");
  const pressed = held?.querySelector('button[type="submit"]');
  if (!pressed) return;
  const words = pressed.textContent;
  const count = () => {
    const marked = held.querySelectorAll('input[name="run"]:checked').length;
    pressed.disabled = marked < 2;
    pressed.textContent = marked < 2 ? `${words} (mark at least two)` : `${words} (${marked})`;
  };
  held.addEventListener("change", count);
  count();
}

/** Lead back to texts of new studies that were begun here and not saved. */
function drafts() {
  const keys = Object.keys(kept()).filter((key) => key.startsWith(DRAFTS));
  const demos = byId("demos");
  if (keys.length === 0 || demos === null) return;
  const links = keys.map((key) => element("li", {}, element("a", { href: `/studies/new${key.slice(DRAFTS.length)}`, text: "A new study that you began here and did not save" })));
  demos.prepend(...links);
}

/** @returns {Record<string, string>} */
function kept() {
  try {
    return { ...localStorage };
  } catch {
    return {};
  }
}
