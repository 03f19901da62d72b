// What was done, so that it can be undone and done again.

/**
 * States one after another, with the present one somewhere among them.
 * @template T
 */
export class History {
  /**
   * @param {T} start
   * @param {number} [most] states kept
   */
  constructor(start, most = 200) {
    this.states = [start];
    this.place = 0;
    this.most = most;
  }

  get now() {
    return this.states[this.place];
  }

  get canUndo() {
    return this.place > 0;
  }

  get canRedo() {
    return this.place < this.states.length - 1;
  }

  /** @param {T} state what follows the present one, in the place of all that was undone */
  push(state) {
    this.states = [...this.states.slice(0, this.place + 1), state].slice(-this.most);
    this.place = this.states.length - 1;
  }

  /** @param {T} state what the present one really is */
  replace(state) {
    this.states[this.place] = state;
  }

  /** @returns {T} */
  undo() {
    this.place = Math.max(0, this.place - 1);
    return this.now;
  }

  /** @returns {T} */
  redo() {
    this.place = Math.min(this.states.length - 1, this.place + 1);
    return this.now;
  }
}
