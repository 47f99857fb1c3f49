// @ts-check
import { el, svg, put } from "./dom.js";

/* The staff: half a line space is 10 units; the top line lies at y = 0. */
const HALF = 10;

/** Draws a written note. @param {SVGElement} root @param {any} staff */
export function drawStaff(root, staff) {
  const key = JSON.stringify(staff ?? null);
  if (root.dataset.key === key) return;
  root.dataset.key = key;
  put(root, "display", staff ? null : "none");
  if (!staff) return;
  const y = (step) => (8 - step) * HALF;
  const top = Math.min(y(8), y(staff.step)) - 30;
  const bottom = Math.max(y(0), y(staff.step)) + 34;
  const signature = staff.signature ?? [];
  const x = 140 + SIGN * signature.length, wide = x + 120;
  put(root, "viewBox", `0 ${top} ${wide} ${bottom - top}`);
  const line = (step, x1, x2) => svg("line", { class: "stave", x1, x2, y1: y(step), y2: y(step) });
  root.replaceChildren(
    ...[0, 2, 4, 6, 8].map((s) => line(s, 0, wide)),
    clef(staff.clef),
    ...signature.map((s, i) => accidental(staff.sign, 78 + SIGN * i, y(s))),
    ...staff.ledgers.map((s) => line(s, x - 28, x + 28)),
    // A long note: hold it.
    svg("ellipse", { class: "head-out", cx: x, cy: y(staff.step), rx: 17, ry: 10.5 }),
    svg("ellipse", { class: "head-in", cx: x, cy: y(staff.step), rx: 6.2, ry: 8.6, transform: `rotate(-28 ${x} ${y(staff.step)})` }),
    ...(staff.accidental ? [accidental(staff.accidental, x - 46, y(staff.step))] : []));
}

/* The room of one sign of the key signature. */
const SIGN = 20;

/* Clefs, drawn with a round pen around the line that they name: G, F or C. */
const CURL = "M31 7C24 3 26 -7 35 -7C46 -7 50 4 46 11C40 21 22 20 17 7C12 -7 21 -20 31 -31C41 -42 46 -55 42 -67C39 -75 33 -73 31 -64C28 -52 34 -18 40 24C42 38 35 43 28 39C23 36 24 29 29 29";
const HOOK = "M14 0C14 -15 30 -22 42 -13C54 -3 50 20 40 34C34 43 24 50 12 56";
const BRACE = "M29 -28C31 -40 50 -39 50 -22C50 -6 38 -4 33 -11L27 0L33 11C38 4 50 6 50 22C50 39 31 40 29 28";
/** The named line of each clef, in steps from the bottom line. */
const NAMED = { treble: 2, bass: 6, alto: 4, tenor: 6 };

/** @param {string} kind */
function clef(kind) {
  const at = { class: "clef", transform: `translate(0 ${(8 - NAMED[kind]) * HALF})` };
  const dot = (x, y, r) => svg("circle", { cx: x, cy: y, r });
  if (kind === "treble") return svg("g", at, svg("path", { d: CURL }), dot(29, 33, 5));
  if (kind === "bass") return svg("g", at, svg("path", { d: HOOK }), dot(17, 1, 6), dot(62, -10, 3.4), dot(62, 10, 3.4));
  return svg("g", at, svg("path", { class: "bar", d: "M12 -40V40" }), svg("path", { class: "thin", d: "M21 -40V40" }), svg("path", { d: BRACE }));
}

const SIGNS = {
  flat: "M-2 -38V12C10 5 17 -3 13 -9C9 -14 1 -10 -2 -4",
  sharp: "M1 -26V28M11 -29V25M-6 -7L18 -13M-6 13L18 7",
  natural: "M1 -28V13L12 8M12 28V-13L1 -8",
};

/** @param {"flat"|"sharp"|"natural"} kind @param {number} x @param {number} y */
function accidental(kind, x, y) {
  return svg("path", { class: "sign", transform: `translate(${x} ${y})`, d: SIGNS[kind] });
}

/* The slide: the legs run out of the instrument at the left, the bow stands
   where the slide stands, the upright line is where it has to go. */
const BOW = "M-4000 -26H-26a26 26 0 0 1 0 52H-4000";

/** Draws a slide to scale with its move in large type. @param {any} m */
export function drawSlide(m) {
  const away = m.from !== m.to;
  const out = m.to > m.from;
  const drawing = svg("svg", { class: "drawing", role: "img", "aria-label": m.words },
    svg("svg", { x: m.from + "%", y: "44%", overflow: "visible" },
      svg("path", { class: "tube-in", d: BOW }), svg("path", { class: "tube", d: BOW })),
    svg("line", { class: "upright", x1: m.to + "%", x2: m.to + "%", y1: "2%", y2: "78%" }),
    away ? svg("line", { class: "way", x1: m.from + "%", x2: m.to + "%", y1: "44%", y2: "44%" }) : null,
    away ? svg("svg", { x: m.to + "%", y: "44%", overflow: "visible" },
      svg("path", { class: "tip", d: out ? "M-13 -8L-1 0L-13 8" : "M13 -8L1 0L13 8" })) : null,
    ...m.ticks.flatMap((t) => [
      svg("line", { class: "tick", x1: t.at + "%", x2: t.at + "%", y1: "80%", y2: t.label ? "87%" : "84%" }),
      t.label ? svg("text", { x: t.at + "%", y: "99%", "text-anchor": t.at < 2 ? "start" : t.at > 98 ? "end" : "middle" }, t.label) : null,
    ]));
  return el("figure", { class: "move" },
    el("p", { class: "poster do" }, el("span", {}, m.verb), " ", el("b", {}, m.distance), " ", el("span", {}, "mm"), " ", el("span", { class: "which" }, m.name)),
    el("div", { class: "scale" }, drawing));
}
