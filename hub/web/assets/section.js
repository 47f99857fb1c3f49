// @ts-check
import { el, put, say, byID, ask } from "./dom.js";
import { phrase } from "./words.js";
import { follow } from "./feed.js";
import { ChairLine, drawRuler } from "./chairline.js";

const SEAT_ROWS = phrase("row.seat-rows").split("|");

const PLAYING = new Set(["turn", "sounding", "resting"]);

/**
 * Follows the row. The first board is fetched, because the head of the page
 * can begin that before any script runs; all others come over the socket.
 * @param {string} viewer the query that says which screen this is
 * @param {(board: any) => void} onBoard
 * @param {(connected: boolean) => void} onLink
 */
export function followRow(viewer, onBoard, onLink) {
  let live = false;
  /** @type {string | null} what this page says where the hub does not answer */
  let said = null;
  ask("/api/row" + viewer).then((b) => { if (!live) onBoard(b); }, () => { /* the socket will say what is wrong */ });
  follow("/ws/row" + viewer, (b) => { live = true; onBoard(b); }, (up, ended) => {
    const warning = byID("offline");
    warning.hidden = up;
    said ??= warning.textContent;
    say(warning, ended ? phrase("row.ended") : said);
    onLink(up);
  });
}

/** The whole section on a page: the sentence, the facts and the chairs. */
export class SectionView {
  /** @param {{onOpen?: (id: number) => void, onDo?: (what: any) => void, onSeat?: (id: number, by: number) => void}} actions none on a wall screen */
  constructor(actions) {
    this.actions = actions;
    /** @type {Map<number, ChairLine>} */
    this.lines = new Map();
    /** @type {Map<number, HTMLElement>} */
    this.rows = new Map();
    this.first = true;
  }

  /** Shows a board. @param {any} b */
  show(b) {
    this.board = b;
    if ((b.language || "en") !== document.documentElement.lang) location.reload(); // the section changed its language
    say(byID("section"), b.section.name);
    say(byID("say"), b.say?.replace(/(\d)-(?=\d)/g, "$1\u2060-\u2060")); // a fingering stays on one line
    put(byID("say"), "data-kind", b.say_kind);
    this.showFacts(b);
    drawRuler(byID("ruler"), b.scale);
    // From across the room only lines can be read: the wall keeps rows.
    put(byID("chairs"), "data-arc", b.arc && this.actions.onOpen);
    const news = this.showChairs(b.chairs ?? []);
    this.keepInSight(b.chairs ?? []);
    this.readAloud(b.say, this.first ? [] : news);
    this.first = false;
  }

  /**
   * Hands a screen reader what is new, each once: settled answers, and the
   * sentence. An answer that the sentence tells is not told beside it.
   * @param {string} sentence @param {any[]} chairs with a new settled answer
   */
  readAloud(sentence, chairs) {
    const fresh = sentence !== this.sentence;
    this.sentence = sentence;
    const has = (text) => Boolean(text) && fresh && sentence.toLowerCase().includes(text.toLowerCase());
    const hidden = this.board.section.hide_names; // sentences call a chair so too
    const called = (c) => (!hidden && c.name) || c.label;
    const lines = chairs.filter((c) => !(has(c.headline) && (has(c.name) || has(c.label))))
      .map((c) => `${called(c)}: ${c.headline || c.word}`);
    if (fresh) lines.push(sentence);
    // A new element is read even when its words are those of the last.
    if (lines.length > 0) byID("heard").replaceChildren(el("p", {}, lines.join(" ")));
  }

  /** @param {any} b */
  showFacts(b) {
    const facts = [b.round?.title, b.round ? b.count : "", b.left, b.spread, b.used, phrase("row.a4", b.section.a4)];
    const key = facts.join("|");
    if (key !== this.factsKey) {
      this.factsKey = key;
      byID("facts").replaceChildren(...facts.filter(Boolean).map((f) => el("span", {}, f)));
    }
    say(byID("common"), b.beside);
    const list = byID("trouble");
    if (!list) return;
    const trouble = b.trouble ?? [];
    list.hidden = trouble.length === 0;
    if (list.dataset.key !== trouble.join("|")) {
      list.dataset.key = trouble.join("|");
      list.replaceChildren(...trouble.map((t) => el("li", {}, t)));
    }
  }

  /** @param {any[]} chairs @returns {any[]} those with a new settled answer */
  showChairs(chairs) {
    const news = [];
    const seen = new Set();
    for (const c of chairs) {
      seen.add(c.id);
      let line = this.lines.get(c.id);
      if (!line) {
        line = new ChairLine(c.id, this.actions);
        this.lines.set(c.id, line);
      }
      if (line.update(c)) news.push(c);
    }
    for (const [id, line] of this.lines) {
      if (!seen.has(id)) {
        line.root.remove();
        this.lines.delete(id);
      }
    }
    this.order(chairs);
    const empty = byID("empty");
    if (empty) empty.hidden = chairs.length > 0;
    return news;
  }

  /** Brings whose turn it is into sight, once for each turn, unless the leader reads an open chair. @param {any[]} chairs */
  keepInSight(chairs) {
    const asked = chairs.filter((c) => PLAYING.has(c.state));
    const turn = asked.length === 1 ? asked[0].id : 0;
    if (turn === this.turn) return;
    this.turn = turn;
    if (turn && !document.querySelector(".line[data-open]")) {
      this.lines.get(turn)?.root.scrollIntoView({ block: "nearest" });
    }
  }

  /** Puts lines into their seat rows, moving only what is out of place. @param {any[]} chairs */
  order(chairs) {
    const key = chairs.map((c) => `${c.row}:${c.id}`).join(",");
    if (key === this.orderKey) return;
    this.orderKey = key;
    const held = document.activeElement;
    const byRow = new Map();
    for (const c of chairs) {
      if (!byRow.has(c.row)) byRow.set(c.row, []);
      byRow.get(c.row).push(this.lines.get(c.id)?.root);
    }
    const seats = byID("seats");
    put(seats, "data-many", chairs.length > 24);
    seats.replaceChildren(...[...byRow.keys()].sort((a, b) => a - b).map((row) => this.seatRow(row, byRow.get(row))));
    if (held instanceof HTMLElement && document.activeElement !== held) held.focus();
  }

  /** @param {number} row @param {Node[]} lines */
  seatRow(row, lines) {
    let list = this.rows.get(row);
    if (!list) {
      const title = SEAT_ROWS[row] ?? phrase("row.seat-row", row + 1);
      list = el("section", { class: "seatrow", "aria-label": title }, el("h3", {}, title), el("ol", {}));
      this.rows.set(row, /** @type {HTMLElement} */ (list));
    }
    /** @type {any} */ (list).lastElementChild.replaceChildren(...lines);
    return /** @type {HTMLElement} */ (list);
  }
}
