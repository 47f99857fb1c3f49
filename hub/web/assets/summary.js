// @ts-check
import { el, svg, say, byID, ask } from "./dom.js";
import { phrase } from "./words.js";
import { follow } from "./feed.js";

/** What the page shows, to leave it alone while nothing changes. */
let shown = "";

function line(c) {
  const last = c.points.length - 1;
  const path = svg("svg", { class: "drawing", role: "img", "aria-label": c.path ? phrase("summary.path", c.path) : phrase("summary.path.none") },
    svg("line", { class: "upright", x1: "50%", x2: "50%", y1: "0", y2: "100%" }),
    ...c.points.slice(1).map((p, i) => svg("line", { class: "tick", x1: c.points[i] + "%", x2: p + "%", y1: height(i, last), y2: height(i + 1, last) })),
    ...c.points.map((p, i) => svg("circle", { class: i === last ? "dot last" : "dot", cx: p + "%", cy: height(i, last), r: 4 })));
  return el("tr", {},
    el("th", { scope: "row" }, el("a", { href: `/report?chair=${c.id}` }, c.label), el("span", {}, [c.name, c.instrument].filter(Boolean).join(", "))),
    el("td", { class: "path" }, path),
    el("td", {}, (c.moves ?? []).join("; ") || "–", c.follow_through ? el("small", {}, c.follow_through) : null),
    el("td", {}, el("b", { class: "poster" }, c.now || "–"), c.words && c.words !== c.now ? el("small", {}, c.words) : null));
}

/** Readings run down the page in the order they were played. */
function height(i, last) {
  return last <= 0 ? "50%" : 27 + (46 * i) / last + "%";
}

async function show() {
  const s = await ask("/api/summary"), key = JSON.stringify(s);
  if (key === shown) return;
  shown = key;
  say(byID("section"), s.section);
  say(byID("title"), phrase("summary.title", s.section, s.set, s.present));
  const facts = [phrase("summary.rounds", s.rounds), s.used, phrase("summary.a4", s.a4), s.common, new Date().toLocaleDateString(document.documentElement.lang === "en" ? undefined : document.documentElement.lang, { dateStyle: "long" })];
  byID("facts").replaceChildren(...facts.filter(Boolean).map((f) => el("span", {}, f)));
  say(byID("most"), s.most ? phrase("summary.most", s.most) : "");
  byID("scale").replaceChildren(...s.scale.ticks.map((t) =>
    svg("text", { x: t.at + "%", y: 15, "text-anchor": t.at < 5 ? "start" : t.at > 95 ? "end" : "middle" }, t.label)));
  byID("lines").replaceChildren(...s.chairs.map(line));
}

byID("print").addEventListener("click", () => print());

const refresh = () => show().then(() => { byID("notice").hidden = true; }, (e) => { say(byID("notice"), e.message); byID("notice").hidden = false; });
let soon = 0; // news come several a second while people play
refresh();
follow("/ws/row", () => { soon ||= setTimeout(() => { soon = 0; refresh(); }, 500); }, () => { /* what is shown was true; the next row renews it */ });
