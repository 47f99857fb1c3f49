// @ts-check

/** How many looks must agree: a few may come early or late by chance. */
const LOOKS = 5;

/** Watches whether a count keeps pace with a clock, and says when it has fallen
    behind for good. */
export class Pace {
  /**
   * @param {number} limit seconds behind that count as gone
   * @param {number} drift how much quicker or slower than the clock the count may run and
   *   be followed, as a share: little where it falls behind in small steps
   */
  constructor(limit, drift) {
    this.limit = limit;
    this.drift = drift;
    this.looked = 0;
    /** @type {number[]} */ this.recent = [];
    this.usual = NaN;
  }

  /**
   * @param {number} clock @param {number} counted both in seconds
   * @returns {number} by how many seconds the count has fallen behind, once; mostly 0
   */
  behind(clock, counted) {
    this.recent.push(clock - counted);
    const most = this.drift * (clock - this.looked);
    this.looked = clock;
    if (this.recent.length < LOOKS) return 0;
    const now = [...this.recent].sort((a, b) => a - b)[LOOKS >> 1];
    this.recent.shift();
    const off = now - this.usual;
    if (Math.abs(off) <= this.limit) {
      this.usual += Math.max(-most, Math.min(most, off));
      return 0;
    }
    this.usual = now; // also the first
    return off > 0 ? off : 0;
  }
}
