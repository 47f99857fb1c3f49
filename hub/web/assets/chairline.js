// @ts-check
import { el, svg, put, say } from "./dom.js";
import { phrase } from "./words.js";
import { toneRail } from "./tones.js";

/** The bow of a slide with its two legs running off to the left. */
const BOW = "M-4000 -8H-8a8 8 0 0 1 0 16H-4000";

/**
 * One chair on the common line. It is made once and updated in place; update
 * touches only what changed.
 */
export class ChairLine {
  /**
   * @param {number} id
   * @param {{onOpen?: (id: number) => void, onDo?: (what: any) => void, onSeat?: (id: number, by: number) => void}} actions none on a wall screen
   */
  constructor(id, actions) {
    this.id = id;
    this.actions = actions;
    this.last = "";
    this.settled = "";
    this.root = copyOf(actions.onOpen ? "button" : "div");
    this.root.id = `chair-${id}`;
    [this.head, this.more = null] = this.root.children;
    const part = (name) => /** @type {any} */ (this.root.querySelector("." + name));
    this.label = part("label");
    this.name = part("name");
    this.part = part("part");
    this.note = part("note");
    this.answer = part("answer");
    this.state = part("state");
    this.small = part("small");
    this.drawing = new Drawing(part("drawing"));
    if (this.more) {
      this.more.id = `more-${id}`;
      put(this.head, "aria-controls", this.more.id);
      this.head.addEventListener("click", () => actions.onOpen?.(id));
    }
  }

  /**
   * @param {any} c a Chair as the hub sends it
   * @returns {boolean} whether the chair has a new settled answer
   */
  update(c) {
    const now = JSON.stringify(c);
    if (now === this.last) return false;
    this.last = now;
    this.chair = c;
    put(this.root, "data-state", c.state);
    put(this.root, "data-verdict", c.verdict ?? "none");
    say(this.label, c.label);
    say(this.name, c.name);
    put(this.part, "hidden", !c.written);
    say(this.note, c.written);
    this.drawing.update(c.mark);
    this.root.style.setProperty("--x", c.spot?.x ?? "");
    this.root.style.setProperty("--y", c.spot?.y ?? "");
    this.writeAnswer(c);
    say(this.state, c.trouble || stateWords(c));
    put(this.state, "data-trouble", Boolean(c.trouble));
    say(this.small, [c.small, c.was].filter(Boolean).join(" · "));
    if (this.more && !this.more.hidden) this.writeMore();
    return this.news(c);
  }

  /** @param {any} c */
  writeAnswer(c) {
    const key = [c.off, c.verb, c.distance, c.slide_name, c.word].join("|");
    if (key === this.answerKey) return;
    this.answerKey = key;
    if (c.verb) {
      this.answer.replaceChildren(...[
        c.off ? el("span", { class: "off" }, c.off + ", ") : null,
        el("span", { class: "verb" }, c.verb + " "),
        el("span", { class: "far" }, el("b", { class: "mm" }, c.distance), el("span", { class: "unit" }, " mm")),
        el("span", { class: "slide" }, " " + c.slide_name)].filter(Boolean));
    } else {
      this.answer.replaceChildren(el("b", { class: "word" }, c.word));
    }
  }

  /** Whether there is an answer that was not there before; that a slide was moved is none. @param {any} c */
  news(c) {
    if (c.word === phrase("row.word.moved")) return false;
    const settled = c.verdict ? [c.verdict, c.headline, c.small].join("|") : "";
    const fresh = settled !== "" && settled !== this.settled;
    this.settled = settled;
    return fresh;
  }

  /** @param {boolean} open */
  open(open) {
    put(this.head, "aria-expanded", open ? "true" : "false");
    put(this.root, "data-open", open);
    if (!this.more) return;
    this.more.hidden = !open;
    if (open) this.writeMore();
  }

  /** The drawer under an open chair: why, what happened, what to do. */
  writeMore() {
    const c = this.chair;
    if (!c || !this.more) return;
    clearTimeout(this.later);
    if (this.more.querySelector(":active")) { // a press is under way, and would be lost with its button
      this.later = setTimeout(() => this.writeMore(), 50);
      return;
    }
    const act = (what) => () => this.actions.onDo?.({ chair: this.id, ...what });
    const absent = c.state === "absent";
    const held = /** @type {HTMLElement|null} */ (document.activeElement)?.dataset?.act;
    const inside = this.more.contains(document.activeElement);
    this.more.replaceChildren(
      el("div", { class: "why" },
        c.headline ? el("p", { class: "headline" }, c.headline) : null,
        c.detail ? el("p", {}, c.detail) : null,
        c.follow_through ? el("p", {}, c.follow_through) : null,
        c.balance ? el("p", {}, c.balance) : null,
        el("p", { class: "soft" }, [c.part, c.instrument, c.stands].filter(Boolean).join(" · "))),
      el("div", { class: "acts" },
        c.tones ? el("div", { class: "tone" }, phrase("row.chair.plays") + " ", toneRail(c.label, c.tones, (t) => {
          this.last = ""; // what the hub says next is drawn even if it is what it said before
          act({ do: "tone", note: t.note })();
        })) : null,
        c.ways?.length > 1 ? el("label", { class: "tone" }, phrase("row.chair.with") + " ",
          el("select", { "data-act": "way", onchange: (e) => act({ do: "way", name: e.target.value })() },
            ...c.ways.map((w) => el("option", { value: w, selected: w === c.way }, w)))) : null,
        c.verb && !c.ways ? el("button", { type: "button", "data-act": "moved", onclick: act({ do: "setting", slide: c.move.id, mm: c.move.to_mm }) }, phrase("row.chair.moved")) : null,
        absent ? null : el("button", { type: "button", "data-act": "again", onclick: act({ do: "again" }) }, phrase("row.chair.again")),
        absent ? null : el("button", { type: "button", "data-act": "skip", onclick: act({ do: "skip" }) }, phrase("row.chair.skip"), el("kbd", {}, "S")),
        el("button", { type: "button", "data-act": "absent", onclick: act({ do: absent ? "present" : "absent" }) },
          phrase(absent ? "row.chair.present" : "row.chair.absent"), el("kbd", {}, "X")),
        el("button", { type: "button", "data-act": "left", onclick: () => this.actions.onSeat?.(this.id, -1) }, phrase("row.chair.left")),
        el("button", { type: "button", "data-act": "right", onclick: () => this.actions.onSeat?.(this.id, 1) }, phrase("row.chair.right"))));
    if (inside && held) /** @type {HTMLElement|null} */ (this.more.querySelector(`[data-act="${held}"]`))?.focus();
  }
}

/** @type {Map<string, any>} */
const patterns = new Map();

/**
 * An empty line. A copy of one that was built before comes sooner than
 * another one built: a row of 120 is on the screen the sooner.
 * @param {"button"|"div"} head what the chair is: it opens, or it does not
 */
function copyOf(head) {
  if (!patterns.has(head)) patterns.set(head, emptyLine(head));
  return patterns.get(head).cloneNode(true);
}

/** @param {"button"|"div"} head */
function emptyLine(head) {
  const opens = head === "button";
  return el("li", { class: "line" },
    el(head, opens ? { class: "chair", type: "button", "aria-expanded": "false" } : { class: "chair" },
      el("span", { class: "who" }, el("span", { class: "label", dir: "auto" }), el("bdi", { class: "name", dir: "auto" }), writtenNote()),
      el("span", { class: "place", "aria-hidden": "true" }, emptyDrawing()),
      el("span", { class: "words" }, el("span", { class: "answer" }), el("span", { class: "state" }), el("span", { class: "small" }))),
    opens ? el("div", { class: "more", hidden: true }) : null);
}

/** The note that the player reads, once one is called. */
function writtenNote() {
  return el("span", { class: "part", hidden: true }, el("span", { class: "of" }, phrase("row.chair.written") + " "), el("span", { class: "note" }));
}

/** The slide on its line; nothing of it shows yet. */
function emptyDrawing() {
  return svg("svg", { class: "drawing", focusable: "false" },
    svg("svg", { y: "50%", overflow: "visible", display: "none" },
      svg("path", { class: "tube-in", d: BOW }), svg("path", { class: "tube", d: BOW })),
    // The doubt is a bracket under the bow.
    svg("svg", { class: "doubt", y: "50%", overflow: "visible", display: "none" },
      svg("line", { y1: 14, y2: 14 }), svg("line", { y1: 10, y2: 18 }), svg("line", { y1: 10, y2: 18 })),
    svg("line", { class: "upright", x1: "50%", x2: "50%", y1: "0", y2: "100%" }),
    svg("line", { class: "way", y1: "50%", y2: "50%", display: "none" }),
    svg("svg", { x: "50%", y: "50%", overflow: "visible", display: "none" }, svg("path", { class: "tip" })));
}

/** The slide against the common line. */
class Drawing {
  /** @param {SVGElement} root a copy of emptyDrawing */
  constructor(root) {
    const [tube, doubt, , way, tip] = root.children;
    Object.assign(this, { tube, doubt, way, tip });
  }

  /** @param {{at: number, low: number, high: number, go?: boolean}|null|undefined} m places in percent of the width */
  update(m) {
    const show = (node, on) => put(node, "display", on ? null : "none");
    show(this.tube, m);
    put(this.tube, "data-unheard", m?.unheard);
    const away = m && m.go;
    show(this.way, away);
    show(this.tip, away);
    show(this.doubt, m && m.high > m.low);
    if (!m) return;
    put(this.tube, "x", m.at + "%");
    const [wide, low, high] = this.doubt.children;
    put(wide, "x1", m.low + "%"); put(wide, "x2", m.high + "%");
    put(low, "x1", m.low + "%"); put(low, "x2", m.low + "%");
    put(high, "x1", m.high + "%"); put(high, "x2", m.high + "%");
    if (!away) return;
    put(this.way, "x1", m.at + "%");
    put(this.way, "x2", "50%");
    put(this.tip.firstElementChild, "d", m.at < 50 ? "M-9 -5L-1 0L-9 5" : "M9 -5L1 0L9 5");
  }
}

/** The state where the answer does not already say it. @param {any} c */
function stateWords(c) {
  // Off, but no slide is to be moved: the next step stands in its place. In doubt: why.
  if (c.state === "heard" && c.verdict && c.verdict !== "set" && !c.verb && c.word !== phrase("row.word.moved")) return c.headline ?? "";
  if (c.state === "wait" && c.verdict === "doubt") return c.headline ?? "";
  if (c.words === c.word || c.state === "heard" || c.state === "idle" || c.state === "wait" || (c.state === "turn" && c.words === phrase("row.state.asked"))) return "";
  return c.words;
}

/* Which way is which, said where it is read: left of the line a slide stands
   too far in, and its player is sharp. */
const HEADS = [["2%", "start", phrase("row.ruler.in")], ["98%", "end", phrase("row.ruler.out")]];

/** Draws the ruler over the line. @param {SVGElement} root @param {{mm: number, ticks: {at: number, label?: string}[]}} scale */
export function drawRuler(root, scale) {
  const key = JSON.stringify(scale);
  if (root.dataset.key === key) return;
  root.dataset.key = key;
  root.replaceChildren(
    svg("line", { class: "upright", x1: "50%", x2: "50%", y1: "40%", y2: "100%" }),
    ...HEADS.map(([x, anchor, text]) => svg("text", { class: "way-head", x, y: "50%", "text-anchor": anchor }, text)),
    ...scale.ticks.flatMap((t) => [
      svg("line", { class: "tick", x1: t.at + "%", x2: t.at + "%", y1: t.label ? "65%" : "80%", y2: "100%" }),
      t.label && t.at > 20 && t.at < 80 ? svg("text", { class: "tick-mm", x: t.at + "%", y: "50%", "text-anchor": t.at < 50 ? "start" : "end" }, t.label) : null,
    ]));
}
