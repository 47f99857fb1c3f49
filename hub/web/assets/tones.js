// @ts-check
import { el, put } from "./dom.js";
import { phrase } from "./words.js";

/**
 * One chair's choice among the notes of a chord: a token on a rail, the low
 * notes on the left, dragged by mouse or finger or moved with the arrow keys.
 * @param {string} label the chair
 * @param {any[]} tones ToneChoices, low to high; one is the present one
 * @param {(tone: any, before: any) => void} take what was chosen, and what had been
 * @param {{low: number, high: number}} [axis] the notes between which the rail runs, where several chairs share it
 */
export function toneRail(label, tones, take, axis = { low: tones[0].note, high: tones[tones.length - 1].note }) {
  const low = tones[0].note, high = tones[tones.length - 1].note;
  let at = Math.max(0, tones.findIndex((t) => t.now));
  let taken = at;
  const share = (part, whole) => String(whole > 0 ? part / whole : 0);
  const input = el("input", { type: "range", min: low, max: high, step: 1, disabled: tones.length < 2, "data-act": "tone", "aria-label": phrase("row.chair.plays.who", label) });
  const note = el("b"), name = el("small");
  const token = el("span", { class: "token", "aria-hidden": "true" }, note, name);
  const reach = el("span", { class: "reach" }, ...tones.map((t) => {
    const notch = el("span", { class: "notch" });
    notch.style.setProperty("--at", share(t.note - low, high - low));
    return notch;
  }), input, token);
  reach.style.setProperty("--from", share(low - axis.low, axis.high - axis.low));
  reach.style.setProperty("--wide", share(high - low, axis.high - axis.low));

  /** @param {number} i */
  function show(i) {
    at = Math.min(Math.max(i, 0), tones.length - 1);
    const t = tones[at];
    input.value = String(t.note);
    put(input, "aria-valuetext", phrase("row.chair.tone", t.written, t.tone ? phrase("chord.tone." + t.tone) : t.label));
    note.textContent = t.written;
    name.textContent = t.label;
    token.style.setProperty("--at", share(t.note - low, high - low));
  }
  function settle() {
    if (at === taken) return;
    const before = tones[taken];
    taken = at;
    take(tones[at], before);
  }
  input.addEventListener("input", () => {
    const wanted = Number(input.value);
    show(tones.reduce((best, t, i) => Math.abs(t.note - wanted) < Math.abs(tones[best].note - wanted) ? i : best, 0));
  });
  input.addEventListener("change", settle);
  input.addEventListener("keydown", (e) => {
    const by = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[/** @type {KeyboardEvent} */ (e).key];
    if (!by) return;
    e.preventDefault();
    show(at + by);
    settle();
  });
  show(at);
  return el("span", { class: "rail" }, reach);
}
