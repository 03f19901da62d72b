// A text that is not saved yet, kept in this browser so that it is never lost.

const STEM = "leadline.draft.";
const MOST = 30;

/** @typedef {{text: string, content: string, name: string, when: number}} Kept */

/** The draft of one study. */
export class Draft {
  /**
   * @param {string} key the study's name, or what a new one began as
   * @param {string} content content id of the text that the page came with
   */
  constructor(key, content) {
    this.key = STEM + key;
    this.content = content;
  }

  /**
   * Keep a text.
   * @param {string} text
   * @param {string} name
   * @returns {boolean} whether there was room
   */
  keep(text, name) {
    const kept = JSON.stringify({ text, name, content: this.content, when: Date.now() });
    return quietly(() => {
      try {
        localStorage.setItem(this.key, kept);
      } catch {
        thin();
        localStorage.setItem(this.key, kept);
      }
      return true;
    }, false);
  }

  /** @returns {Kept|null} */
  found() {
    return quietly(() => JSON.parse(localStorage.getItem(this.key) ?? "null"), null);
  }

  drop() {
    quietly(() => localStorage.removeItem(this.key), undefined);
  }
}

/** Let the oldest drafts go. */
function thin() {
  const keys = Object.keys(localStorage).filter((key) => key.startsWith(STEM));
  const dated = keys.map((key) => ({ key, when: quietly(() => JSON.parse(localStorage.getItem(key) ?? "{}").when ?? 0, 0) }));
  dated.sort((one, other) => one.when - other.when);
  for (const { key } of dated.slice(0, Math.max(1, dated.length - MOST))) localStorage.removeItem(key);
}

/**
 * A browser may refuse to keep anything; the page works without.
 * @template T
 * @param {() => T} call
 * @param {T} otherwise
 * @returns {T}
 */
function quietly(call, otherwise) {
  try {
    return call();
  } catch {
    return otherwise;
  }
}
