// Parts of a page fetched anew from the service, which words and escapes them.

import { ask } from "./api.js";

/**
 * Fetch a page of the service as a document of its own; nothing in it runs.
 * @param {string} address
 * @param {AbortSignal} [signal]
 * @returns {Promise<Document>}
 */
export async function fetched(address, signal) {
  const answer = await ask("GET", address, { signal, headers: { Accept: "text/html" } });
  return new DOMParser().parseFromString(await answer.text(), "text/html");
}

/**
 * Put the inside of an element of a fetched page in the place of the same one here.
 * @param {Document} other
 * @param {string} id
 * @returns {boolean} whether both have it
 */
export function takeOver(other, id) {
  const [own, fresh] = [document.getElementById(id), other.getElementById(id)];
  if (own === null || fresh === null) return false;
  own.replaceChildren(...[...fresh.childNodes].map((node) => document.adoptNode(node)));
  return true;
}

/**
 * Renew those cells of a table's rows that differ, and put rows that are new before the others.
 * @param {HTMLTableElement} table
 * @param {HTMLTableElement} fresh
 * @param {string} key name of the data attribute that tells rows apart
 */
export function renew(table, fresh, key) {
  const own = new Map([...table.tBodies[0].rows].map((row) => [row.dataset[key], row]));
  for (const row of [...fresh.tBodies[0].rows].reverse()) {
    const old = own.get(row.dataset[key]);
    if (old === undefined) table.tBodies[0].prepend(document.adoptNode(row));
    else renewRow(old, row);
  }
}

/**
 * @param {HTMLTableRowElement} own
 * @param {HTMLTableRowElement} fresh
 */
function renewRow(own, fresh) {
  for (const [name, value] of Object.entries(fresh.dataset)) own.dataset[name] = value;
  for (const cell of own.cells) {
    const { cell: part } = cell.dataset;
    const other = part === undefined ? undefined : [...fresh.cells].find((one) => one.dataset.cell === part);
    if (other !== undefined && other.textContent !== cell.textContent) cell.replaceChildren(...[...other.childNodes].map((node) => document.adoptNode(node)));
  }
}
