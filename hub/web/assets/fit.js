// @ts-check
import { phrase } from "./words.js";
/**
 * The lines of the chairs share the height that the screen has, between a
 * floor below which nothing can be read and a ceiling above which type only
 * shouts. Where not all fit at the floor, the row scrolls and the wall takes
 * more columns, then leaves out who needs no look.
 */

/** A small low screen and a desk; in px, for type of 16 px. */
const ROW = { floor: 39, ceiling: 92 };

/**
 * Shares the window's height among the lines of the leader's row.
 * @param {HTMLElement} seats holds the seat rows
 * @param {number} lines
 * @param {HTMLElement} bar stands below them
 */
export function shareRow(seats, lines, bar) {
  if (lines === 0) return;
  const rem = parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;
  const heads = [...seats.querySelectorAll("h3")].reduce((sum, h) => sum + h.offsetHeight, 0);
  const top = seats.getBoundingClientRect().top + scrollY;
  const free = innerHeight - top - bar.offsetHeight - heads - 6;
  const line = Math.min(ROW.ceiling * rem, Math.max(ROW.floor * rem, Math.floor(free / lines) - 1));
  seats.style.setProperty("--line", line + "px");
  seats.toggleAttribute("data-tall", line >= 58 * rem);
}

/**
 * Sets a sentence in the largest of a few sizes in which it fits its box, so
 * that a long one does not push the page about.
 * @param {HTMLElement} box of fixed height
 * @param {number} largest of the sizes, 1 for the type as it is set
 */
export function shrinkToFit(box, largest = 1) {
  for (const size of ["1.8", "1.6", "1.4", "1.2", "1", "0.82", "0.66", "0.54", "0.44"]) {
    if (Number(size) > largest) continue;
    box.style.setProperty("--shrink", size);
    if (box.scrollHeight <= box.clientHeight + 1) return;
  }
}

/**
 * How the wall is divided: lines of at least the floor's height, columns that
 * are wide enough for them, and which chairs are left out.
 * @param {{width: number, height: number, floor: number, ceiling: number}} room in px: what the chairs have
 * @param {any[]} chairs
 */
export function divideWall(room, chairs) {
  const fit = Math.max(1, Math.floor(room.height / room.floor));
  // A label and an answer side by side take this many heights of a line.
  const widest = Math.max(1, Math.min(3, Math.floor(room.width / (room.floor * 9.5))));
  let shown = chairs;
  if (chairs.length > fit * widest) {
    const needs = chairs.filter((c) => rank(c) < SET);
    shown = [...needs].sort((a, b) => rank(a) - rank(b)).slice(0, fit * widest);
  }
  const columns = Math.min(widest, Math.max(1, Math.ceil(shown.length / fit)));
  const lines = Math.max(1, Math.ceil(shown.length / columns));
  const keep = new Set(shown.map((c) => c.id));
  return {
    columns, lines, line: Math.min(room.ceiling, Math.floor(room.height / lines)),
    left: chairs.filter((c) => !keep.has(c.id)), keep,
  };
}

const SET = 5;

/** Who needs a look first. @param {any} c a chair */
function rank(c) {
  if (["turn", "sounding", "resting"].includes(c.state)) return 0;
  if (c.verb) return 1;
  if (c.verdict === "doubt" || c.state === "unsettled" || c.trouble) return 2;
  if (c.verdict && c.verdict !== "set") return 3;
  if (c.verdict === "set") return SET;
  return c.state === "absent" ? SET + 1 : 4;
}

/** Who was left out, in words. @param {any[]} left */
export function othersInWords(left) {
  if (left.length === 0) return "";
  const set = left.filter((c) => rank(c) === SET).length;
  const absent = left.filter((c) => c.state === "absent").length;
  const rest = left.length - set - absent;
  return phrase("row.not-shown", [set && phrase("row.not-shown.set", set), rest && phrase("row.not-shown.to-do", rest),
    absent && phrase("row.not-shown.absent", absent)].filter(Boolean).join(", "));
}
