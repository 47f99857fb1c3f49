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
  const top = Math.min(y(8), y(staff.step)) - 24;
  const bottom = Math.max(y(0), y(staff.step)) + 24;
  put(root, "viewBox", `0 ${top} 260 ${bottom - top}`);
  const line = (step, x1, x2) => svg("line", { class: "stave", x1, x2, y1: y(step), y2: y(step) });
  root.replaceChildren(
    ...[0, 2, 4, 6, 8].map((s) => line(s, 0, 260)),
    ...staff.ledgers.map((s) => line(s, 112, 168)),
    // A long note: hold it.
    svg("ellipse", { class: "head-out", cx: 140, cy: y(staff.step), rx: 17, ry: 10.5 }),
    svg("ellipse", { class: "head-in", cx: 140, cy: y(staff.step), rx: 6.2, ry: 8.6, transform: `rotate(-28 140 ${y(staff.step)})` }),
    accidental(staff.accidental, y(staff.step)));
}

/** @param {string|undefined} kind @param {number} y */
function accidental(kind, y) {
  if (kind === "flat") {
    return svg("path", { class: "sign", transform: `translate(92 ${y})`, d: "M0 -38V12C12 5 19 -3 15 -9C11 -14 3 -10 0 -4" });
  }
  if (kind === "sharp") {
    return svg("path", { class: "sign", transform: `translate(96 ${y})`, d: "M0 -26V28M10 -29V25M-7 -7L17 -13M-7 13L17 7" });
  }
  return null;
}

/* The slide: the legs run out of the instrument at the left, the bow stands
   where the slide stands, the upright line is where it has to go. */
const BOW = "M-4000 -26H-26a26 26 0 0 1 0 52H-4000";

/** Draws a slide to scale with its move in large type. @param {any} m */
export function drawSlide(m) {
  const away = m.from !== m.to;
  const out = m.to > m.from;
  const drawing = svg("svg", { class: "drawing", role: "img", "aria-label": `${m.verb} the ${m.name} ${m.distance} mm, ${m.places}` },
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
