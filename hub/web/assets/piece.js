// @ts-check
import { el, put, say, byID, ask } from "./dom.js";
import { follow } from "./feed.js";
import { phrase } from "./words.js";

/** @type {any} the piece as the hub has it, null for none */
let piece = null;

/** Runs what may be refused and shows why. @param {() => Promise<any>} work */
async function attempt(work) {
  const note = byID("refused");
  try {
    await work();
    note.hidden = true;
  } catch (e) {
    say(note, /** @type {Error} */ (e).message);
    note.hidden = false;
  }
}

let answers = true; // the hub does

/** See command in row.js. @param {any} c a hub command */
function command(c) {
  return answers && attempt(async () => {
    await ask("/api/command", { json: c });
    await load();
  });
}

let asked = 0;

async function load() {
  const mine = ++asked;
  const answer = await ask("/api/piece");
  if (mine !== asked) return; // a later one is on its way
  piece = answer.piece;
  show();
  if (piece) await showPlan(mine);
}

function show() {
  const open = Boolean(piece);
  for (const id of ["in-chords", "in-parts"]) byID(id).hidden = !open;
  byID("none").hidden = open;
  byID("drop").hidden = byID("say").hidden = !open;
  if (!open) byID("in-plan").hidden = true;
  say(byID("title"), open ? piece.title : phrase("piece.title"));
  say(byID("facts"), open ? [phrase("piece.bars", piece.bars), phrase("piece.parts.count", piece.parts.length), phrase("piece.chords.count", piece.chords.length)].join(" · ") : "");
  byID("remarks").replaceChildren(...(piece?.remarks ?? []).map((r) => el("li", {}, r)));
  if (open) {
    renew(byID("chords"), piece.chords, chordLine);
    const doubts = piece.parts.map((p, i) => ({ ...p, i })).filter((p) => p.could);
    byID("doubts").hidden = doubts.length === 0;
    renew(byID("doubts"), doubts, doubtLine);
    renew(byID("parts"), piece.seats, seatLine, piece.parts);
  }
  showNext();
}

/** Draws a list anew only when it has changed, and keeps the focus. @param {HTMLElement} list @param {any[]} items @param {(x: any, i: number) => Node} line @param {any} [more] what the lines show besides */
function renew(list, items, line, more) {
  const key = JSON.stringify([items, more]);
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  const held = [...list.querySelectorAll("button, select")].indexOf(/** @type {any} */ (document.activeElement));
  list.replaceChildren(...items.map(line));
  if (held >= 0) /** @type {HTMLElement|undefined} */ ([...list.querySelectorAll("button, select")][held])?.focus();
}

/** @param {any} c @param {number} i */
function chordLine(c, i) {
  const tones = c.tones.map((t) => `${t.label} ${t.written}`).join(", ");
  const call = el("button", { type: "button", class: "held", disabled: Boolean(c.why), onclick: () => command({ do: "sonority", index: i }) },
    el("span", { class: "bar-no" }, phrase("piece.bar", c.bar)),
    el("span", { class: "what" }, c.name, el("span", { class: "how" }, c.when)),
    el("span", { class: "tones" }, c.why || tones));
  const others = c.why || !c.others ? null : el("span", { class: "others" },
    ...c.others.map((o) => el("button", { type: "button", "aria-label": phrase("piece.call.as", c.bar, o.label), onclick: () => command({ do: "sonority", index: i, name: o.name }) }, phrase("piece.as", o.label))));
  return el("li", {}, call, others);
}

/** Asks which instrument a part is written for. @param {any} p with its place i in the score */
function doubtLine(p) {
  const id = `for-${p.i}`;
  return el("li", {},
    el("label", { for: id }, el("b", {}, p.name || phrase("piece.part", p.i + 1)), " ", el("span", { class: "soft" }, phrase(p.said ? "piece.part.is" : p.unknown ? "piece.part.unknown" : "piece.part.which"))),
    el("select", { id, onchange: (e) => command({ do: "part-for", part: p.i, name: e.target.value }) },
      p.said ? null : el("option", { value: "", selected: true }, p.unknown ? phrase("piece.part.nobody") : phrase("piece.part.now", p.could[0].name)),
      ...p.could.map((c) => el("option", { value: c.id, selected: c.id === p.said }, c.name))));
}

/** @param {any} s */
function seatLine(s) {
  const id = `part-${s.chair}`;
  return el("li", {},
    el("label", { for: id }, el("b", {}, s.label), " ", el("span", { class: "soft" }, [s.name, s.instrument, s.absent ? phrase("piece.absent") : ""].filter(Boolean).join(" · "))),
    el("select", { id, onchange: (e) => command({ do: "part", chair: s.chair, part: Number(e.target.value) }) },
      el("option", { value: -1, selected: s.part < 0 }, phrase("piece.part.none")),
      ...piece.parts.map((p, i) => el("option", { value: i, selected: s.part === i }, p.name || phrase("piece.part", i + 1)))));
}

/** @param {number} mine */
async function showPlan(mine) {
  let plan;
  try {
    plan = await ask("/api/piece/plan");
  } catch (e) {
    plan = { words: /** @type {Error} */ (e).message, players: [], hurts: [] };
  }
  if (mine !== asked) return;
  byID("in-plan").hidden = false;
  say(byID("plan-words"), plan.note ? phrase("piece.plan.note", plan.words, plan.note) : plan.words);
  renew(byID("plan"), plan.players, (p) => el("li", {}, el("b", {}, p.label), el("span", {}, p.words), el("span", { class: "soft gain" }, p.gain)));
  byID("h-hurts").hidden = plan.hurts.length === 0;
  renew(byID("hurts"), plan.hurts, (h) => el("li", {}, el("b", {}, phrase("piece.bar", h.bar)), el("span", {}, h.words.join("; "))));
  byID("plan-remarks").replaceChildren(...(plan.remarks ?? []).map((r) => el("li", {}, r)));
  const unheard = plan.players.filter((p) => !p.measured).map((p) => p.label);
  say(byID("unmeasured"), unheard.length ? phrase("piece.plan.unmeasured", unheard.join(", "), plan.note) : "");
}

function showNext() {
  const at = piece ? piece.next : -1;
  const c = piece?.chords[at];
  const b = byID("next");
  b.disabled = !c;
  b.firstChild.textContent = c ? phrase("piece.next.is", c.bar, c.name) : phrase(piece ? "piece.next.end" : "piece.next");
  [...byID("chords").children].forEach((li, i) => put(li, "aria-current", piece && i === at ? "step" : null));
}

/** What the row says about the round. @param {any} b */
function showBoard(b) {
  say(byID("section"), b.section.name);
  say(byID("say"), b.say);
  byID("undo").disabled = !b.can_undo;
  byID("undo").firstChild.textContent = b.can_undo ? phrase("piece.undo.what", b.can_undo) : phrase("piece.undo");
  byID("again").disabled = !b.round;
  byID("end").disabled = !b.round || b.round.done;
}

/** Goes from chord to chord. @param {number} by */
function step(by) {
  const all = /** @type {HTMLElement[]} */ ([...document.querySelectorAll(".held:not(:disabled)")]);
  const at = all.indexOf(/** @type {any} */ (document.activeElement?.closest("#chords > li")?.querySelector(".held")));
  const start = all.indexOf(/** @type {any} */ (document.querySelector("li[aria-current] .held")));
  const next = at < 0 ? all[Math.max(0, start)] : all[at + by];
  next?.focus();
  next?.scrollIntoView({ block: "nearest" });
}

const acts = {
  n: () => command({ do: "next-sonority" }), a: () => command({ do: "again" }),
  e: () => command({ do: "end" }), u: () => command({ do: "undo" }),
};
for (const [key, id] of [["n", "next"], ["a", "again"], ["e", "end"], ["u", "undo"]]) byID(id).addEventListener("click", acts[key]);

addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  if (/^(INPUT|SELECT|TEXTAREA)$/.test(/** @type {HTMLElement} */ (e.target).tagName)) return;
  if (e.key === "ArrowDown" || e.key === "ArrowUp") {
    e.preventDefault();
    step(e.key === "ArrowDown" ? 1 : -1);
    return;
  }
  const b = { n: "next", a: "again", e: "end", u: "undo" }[e.key.toLowerCase()];
  if (b && !byID(b).disabled) acts[e.key.toLowerCase()]();
});

byID("file").addEventListener("change", (e) => attempt(async () => {
  const file = e.target.files[0];
  if (!file) return;
  say(byID("title"), phrase("piece.reading"));
  try {
    await ask("/api/piece", { body: file });
  } finally {
    e.target.value = "";
    await load();
  }
}));
byID("drop").addEventListener("click", () => command({ do: "drop-piece" }));

let seen = "";
follow("/ws/row", (b) => {
  showBoard(b);
  // Another page, or a chair that came, changes what is shown here.
  const key = JSON.stringify([b.section.id, b.section.a4, b.piece, b.round?.done, b.chairs.map((c) => [c.id, c.label, c.name, c.state === "absent"])]);
  if (key === seen) return;
  seen = key;
  attempt(load);
}, (up, ended) => {
  answers = up;
  if (!up) say(byID("say"), phrase(ended ? "piece.ended" : "piece.offline"));
});
