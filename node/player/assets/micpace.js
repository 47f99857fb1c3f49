// @ts-check

/** How quickly a count that runs slower or faster than the clock is followed, in
    shares of the difference for each look. */
const FOLLOW = 0.02;
/** How many looks must agree: a few may come early or late by chance. */
const LOOKS = 5;

/** Watches whether a count keeps pace with a clock, and says when it has fallen
    behind for good. */
export class Pace {
  /** @param {number} limit seconds behind that count as gone */
  constructor(limit) {
    this.limit = limit;
    /** @type {number[]} */ this.recent = [];
    this.usual = NaN;
  }

  /**
   * @param {number} clock @param {number} counted both in seconds
   * @returns {number} by how many seconds the count has fallen behind, once; mostly 0
   */
  behind(clock, counted) {
    this.recent.push(clock - counted);
    if (this.recent.length < LOOKS) return 0;
    const now = [...this.recent].sort((a, b) => a - b)[LOOKS >> 1];
    this.recent.shift();
    const off = now - this.usual;
    if (Math.abs(off) <= this.limit) {
      this.usual += FOLLOW * off;
      return 0;
    }
    this.usual = now; // also the first
    return off > 0 ? off : 0;
  }
}
