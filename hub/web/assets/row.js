// @ts-check
import { el, put, say, byID, ask, recall, keep } from "./dom.js";
import { phrase } from "./words.js";
import { SectionView, followRow } from "./section.js";
import { showHeard } from "./listen.js";
import { showChoices } from "./asone.js";
import { shareRow, shrinkToFit } from "./fit.js";
import { Groups } from "./groups.js";
import { soundNote, hush, isSounding, silence } from "./sound.js";

/** The chair that is open, 0 for none. */
let open = 0;
/** How a note is called: "together", "thorough" (in turns, from several notes of each) or "" for turns. */
let how = "";
let keysOn = recall("bellrow-keys") !== "off";

const view = new SectionView({ onOpen: toggle, onDo: command, onSeat: seat });
/** @type {any} the choice of a chord, fetched when it is first wanted */
let chords = null;

/**
 * Asks the hub to do something, unless it does not answer, as the page says then: what is
 * asked into a dead network would be done when that lives again, on a row that has gone on.
 * @param {any} c a hub command
 */
async function command(c) {
  const note = byID("refused");
  if (!byID("offline").hidden) return;
  try {
    await ask("/api/command", { json: c });
    note.hidden = true;
  } catch (e) {
    say(note, /** @type {Error} */ (e).message);
    note.hidden = false;
  }
}

/** @param {number} id */
function toggle(id) {
  const was = open;
  if (was) view.lines.get(was)?.open(false);
  open = was === id ? 0 : id;
  const line = view.lines.get(open);
  line?.open(true);
  line?.root.scrollIntoView({ block: "nearest" });
  line?.more?.scrollIntoView({ block: "nearest" });
}

/** Changes seats with the neighbour in the same row. @param {number} id @param {number} by -1 left, 1 right */
function seat(id, by) {
  const chairs = view.board?.chairs ?? [];
  const at = chairs.findIndex((c) => c.id === id);
  const me = chairs[at], other = chairs[at + by];
  if (other?.row === me.row) command({ do: "seat", chair: id, row: other.row, place: other.place });
}

function showBar() {
  const b = view.board;
  const key = JSON.stringify(b.calls);
  const calls = byID("calls");
  if (calls.dataset.key !== key) {
    calls.dataset.key = key;
    calls.replaceChildren(...b.calls.map((c, i) =>
      el("button", { type: "button", class: "note poster", "data-note": c.call.note, onclick: () => callNote(i) },
        el("span", { class: "unseen" }, phrase("row.call") + " "), c.label, el("kbd", {}, String(i + 1)))));
  }
  const undo = byID("undo");
  undo.disabled = !b.can_undo;
  // The word stays short, so that nothing on the bar moves; what it takes back is said beside it.
  put(undo, "title", b.can_undo ? phrase("row.undo.what", b.can_undo) : phrase("row.undo.none"));
  put(undo, "aria-description", undo.title);
  const running = Boolean(b.round && !b.round.done);
  button("next").disabled = !running;
  byID("sound").disabled = listening() || b.calls.length === 0;
  if (listening()) hush();
  button("end").disabled = !running && !b.section.watching;
  button("watch").disabled = Boolean(b.section.watching);
  button("again").disabled = !b.round;
  button("fresh").hidden = !b.round;
  byID("thorough").hidden = !b.by_worth;
  if (how === "thorough" && !b.by_worth) flip(how);
  showChoices(byID("room"), b, command);
  showHeard(byID("heard-chords"), b, command);
  const piece = byID("from-piece");
  piece.hidden = !b.piece?.next;
  put(piece, "aria-label", b.piece?.next ? phrase("row.next-sonority.which", b.piece.next) : null);
}

const groups = new Groups(() => layout());
let onlyNotSet = false;

/** Who is seen: all, a group, or those who are not set; then shares out the window's height anew. */
function layout() {
  shrinkToFit(byID("say"));
  makeRoom();
  const group = groups.show(view.board);
  let n = 0;
  for (const [id, line] of view.lines) {
    const c = line.chair;
    const seen = (!group || group.has(id)) && !(onlyNotSet && (c?.verdict === "set" || c?.state === "absent"));
    line.root.hidden = !seen;
    if (seen) n++;
  }
  for (const list of view.rows.values()) list.hidden = !list.querySelector(".line:not([hidden])");
  shareRow(byID("seats"), n, byID("bar"));
}

/** Where the notes on the bar would be cut, the names of keys give way. */
function makeRoom() {
  const calls = byID("calls"), bar = byID("bar");
  put(bar, "data-tight", false);
  put(bar, "data-tight", calls.scrollWidth > calls.clientWidth);
}

function flipNotSet() {
  onlyNotSet = !onlyNotSet;
  put(byID("not-set"), "aria-pressed", onlyNotSet ? "true" : "false");
  layout();
}
byID("not-set").addEventListener("click", flipNotSet);

addEventListener("resize", layout);
document.fonts?.ready.then(layout);

/** On a telephone the less used buttons stand in a panel over the bar. @param {boolean} on */
function showMore(on) {
  put(byID("bar"), "data-more", on);
  put(byID("more"), "aria-expanded", on ? "true" : "false");
}
byID("more").addEventListener("click", () => showMore(byID("more").getAttribute("aria-expanded") !== "true"));
byID("rest").addEventListener("click", () => showMore(false));

/** @param {string} what @returns {HTMLButtonElement} */
function button(what) {
  return /** @type {any} */ (document.querySelector(`[data-do="${what}"]`));
}

/** The tuning note called last, as a place on the bar. */
let lastCall = 0;

/** @param {number} i */
async function callNote(i) {
  const offered = view.board?.calls[i];
  if (!offered) return;
  lastCall = i;
  await silence();
  command({ do: "call", call: { ...offered.call, together: how === "together", thorough: how === "thorough" } });
}

/** Whether somebody is listened to, whom a sounded note would steer. */
const listening = () => Boolean(view.board?.round && !view.board.round.done || view.board?.section.watching);

let soundedAt = 0;

/** The note called last, or the first of the bar. */
const tuningNote = () => view.board?.calls[lastCall]?.call.note;

/** Sounds a note of equal temperament. @param {number|undefined} of its MIDI number */
async function sound(of) {
  if (of === undefined || listening() || isSounding()) return;
  soundedAt = performance.now();
  const note = byID("refused");
  try {
    await soundNote(view.board.section.a4 * 2 ** ((of - 69) / 12));
    note.hidden = true;
  } catch (e) {
    say(note, /** @type {Error} */ (e).message);
    note.hidden = false;
  }
}

/** A tap sounds the note for its time; a key or finger that is held, as long as it is held. */
function soundEnds() {
  const tap = 400; // ms
  if (performance.now() - soundedAt > tap) hush();
}
/** Lets a button sound a note. @param {HTMLElement} button @param {() => number|undefined} note */
function sounds(button, note) {
  button.addEventListener("pointerdown", () => sound(note()));
  button.addEventListener("pointerup", soundEnds);
  button.addEventListener("click", (e) => { if (e.detail === 0) sound(note()); }); // by a key or a screen reader
}
sounds(byID("sound"), tuningNote);
addEventListener("keyup", (e) => { if (e.key.toLowerCase() === "o" || e.key === "Shift") soundEnds(); });

/** @param {string} what */
function flip(what) {
  how = how === what ? "" : what;
  for (const w of ["together", "thorough"]) put(byID(w), "aria-pressed", how === w ? "true" : "false");
}

/** @param {string} what */
function act(what) {
  const c = { do: what };
  if ((what === "again" || what === "skip" || what === "absent") && open) c.chair = open;
  if (what === "skip" && !open) return;
  if (what === "absent") {
    if (!open) return;
    if (view.lines.get(open)?.chair?.state === "absent") c.do = "present";
  }
  command(c);
}

for (const b of document.querySelectorAll("[data-do]")) {
  b.addEventListener("click", () => act(/** @type {HTMLElement} */ (b).dataset.do));
}
for (const w of ["together", "thorough"]) byID(w).addEventListener("click", () => flip(w));
byID("chord").addEventListener("click", openChords);
byID("keys-open").addEventListener("click", () => byID("keys").showModal());
byID("keys-on").checked = keysOn;
byID("keys-on").addEventListener("change", (e) => {
  keysOn = e.target.checked;
  keep("bellrow-keys", keysOn ? "on" : "off");
});

/** Opens the choice of a chord, on the section's first tuning note. */
async function openChords() {
  chords ??= new (await import("./chords.js")).ChordDialog(
    async (c) => { await silence(); command(c); }, sounds, listening);
  chords.open((view.board?.calls[0]?.call.note ?? 58) % 12);
}

/* Keys */
function step(by) {
  const heads = [...document.querySelectorAll("#seats .chair")];
  const at = heads.indexOf(document.activeElement?.closest(".line")?.querySelector(".chair"));
  const next = at < 0 ? (by > 0 ? 0 : heads.length - 1) : at + by;
  /** @type {HTMLElement|undefined} */ (heads[next])?.focus();
}

addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey || document.querySelector("dialog[open]")) return;
  const in_ = /** @type {HTMLElement} */ (e.target).tagName;
  if (in_ === "INPUT" || in_ === "SELECT" || in_ === "TEXTAREA") return;
  if (e.key === "ArrowDown" || e.key === "ArrowUp") {
    e.preventDefault();
    step(e.key === "ArrowDown" ? 1 : -1);
    return;
  }
  if (e.key === "Escape" && open) {
    const head = view.lines.get(open)?.head;
    toggle(open);
    head?.focus();
    return;
  }
  if (!keysOn) return;
  const key = e.key.toLowerCase();
  const chair = /** @type {HTMLElement|null} */ (document.activeElement)?.closest?.(".line");
  const digit = /^Digit([1-9])$/.exec(e.code)?.[1];
  if (e.shiftKey && digit) { if (!e.repeat) sound(view.board?.calls[Number(digit) - 1]?.call.note); }
  else if (key === "o") { if (!e.repeat) sound(tuningNote()); }
  else if (key >= "1" && key <= "9") callNote(Number(key) - 1);
  else if (key === "t") flip("together");
  else if (key === "c") { e.preventDefault(); openChords(); }
  else if (key === "?") byID("keys").showModal();
  else if (key === "g") groups.toggle();
  else if (key === "f") flipNotSet();
  else if ("ansxeulpw".includes(key) && key.length === 1) {
    // A key on a chair means that chair, open or not.
    if (chair && "sxa".includes(key)) {
      const id = Number(chair.id.slice("chair-".length));
      if (open !== id && key !== "a") toggle(id);
    }
    if (key === "p" && byID("from-piece").hidden) return;
    act({ a: "again", n: "next", s: "skip", x: "absent", e: "end", u: "undo", l: "listen", p: "next-sonority", w: "watch" }[key]);
  }
});

/** Says the join code while nobody is here. */
async function showCode() {
  if (byID("code").textContent || (view.board?.chairs ?? []).length > 0) return;
  say(byID("code"), (await ask("/api/invitation").catch(() => ({}))).code);
}

followRow("", (b) => {
  view.show(b);
  showBar();
  layout();
  showCode();
}, (up) => {
  if (!up) byID("refused").hidden = true; // one warning is enough
});
