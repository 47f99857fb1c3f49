// @ts-check
import { el, put, say, byID, ask } from "./dom.js";
import { phrase } from "./words.js";
import { follow } from "./feed.js";

const BANDS = [{ good: 5, watch: 10, label: phrase("setup.cents", 5) }, { good: 10, watch: 20, label: phrase("setup.band.schools", 10) }];
const TUNINGS = [["", phrase("setup.tuning.usual")], ["just", phrase("setup.tuning.just")], ["equal", phrase("setup.tuning.equal")]];
const HORNS = [["", phrase("setup.horns.bb")], ["f-first", phrase("setup.horns.f")]];
const SEATINGS = ["rows", "arc"].map((s) => [s, phrase("setup.seating." + s)]);
const ORDERS = ["low-to-high", "seating", "by-worth", "two-at-once"].map((o) => [o, phrase("setup.order." + o)]);

/** The language of a section for which none was chosen. */
const OWN = byID("language").value;

/** @type {any} the section as the hub has it */
let section = null;
/** @type {any} the form as it was filled from it: what differs from this was changed here */
let loaded = null;
/** @type {any[]} the form before each change that is not saved yet, and as it stands */
let past = [], present = null;
/** What the hub would take back, in words. */
let canUndo = "";
/** What it would take back right after this page had saved. */
let ownUndo = "";
/** @type {any[]} */
let instruments = [];
/** @type {any[]} the styles in which notes can be named, the usual one first */
let styles = [];
let nextSeat = 0;

function choice(type, name, value, label, checked) {
  return el("label", { class: "choice" }, el("input", { type, name, value, checked }), el("span", {}, label));
}

/** Shows a section as the hub has it. @param {any} s */
function show(s) {
  section = s;
  past = [];
  say(byID("section"), s.name);
  fill(s);
  loaded = present;
}

/** Writes a section into the form. @param {any} s */
function fill(s) {
  byID("name").value = s.name;
  byID("a4").value = s.reference.a4 || 440;
  byID("temp").value = s.temperature_c ? (american(s) ? `${tenth(1.8 * s.temperature_c + 32)} °F` : `${tenth(s.temperature_c)} °C`) : "";
  byID("fixed").checked = s.fixed_pitch;
  byID("hide").checked = s.hide_names;
  const bands = BANDS.some((b) => b.good === s.good_cents && b.watch === s.watch_cents) ? BANDS
    : [...BANDS, { good: s.good_cents, watch: s.watch_cents, label: phrase("setup.cents", s.good_cents) }];
  fillSet("band", bands.map((b) => choice("radio", "band", `${b.good}/${b.watch}`, b.label, b.good === s.good_cents && b.watch === s.watch_cents)));
  fillSet("order", ORDERS.map(([v, l]) => choice("radio", "order", v, l, v === s.order)));
  fillSet("horns", HORNS.map(([v, l]) => choice("radio", "horns", v, l, v === (s.horn_order ?? ""))));
  byID("horns").hidden = !s.horn_order && !(s.chairs ?? []).some((c) => c.instrument.startsWith("horn_double"));
  fillSet("seating", SEATINGS.map(([v, l]) => choice("radio", "seating", v, l, v === (s.arc ? "arc" : "rows"))));
  fillSet("tuning", TUNINGS.map(([v, l]) => choice("radio", "tuning", v, l, v === (s.tuning ?? ""))));
  const chosen = new Map((s.tuning_notes ?? []).map((n) => [n % 12, n]));
  byID("names").replaceChildren(...styles.map((y) => el("option", { value: y.value }, y.label)));
  byID("names").value = s.notes ?? styles[0].value;
  byID("language").value = s.language ?? OWN;
  fillSet("notes", style().classes.map((n, i) => choice("checkbox", "note", String(i), n, chosen.has(i))));
  byID("seats").replaceChildren(...(s.chairs ?? []).map(seat));
  sayRoom();
  foretell();
  present = gather();
  showChanged();
}

/** The style in which notes are named, as the form has it. */
function style() { return styles.find((y) => y.value === byID("names").value) ?? styles[0]; }

/** @param {string} id @param {Node[]} kids */
function fillSet(id, kids) {
  byID(id).replaceChildren(byID(id).querySelector("legend"), ...kids);
}

/** @param {any} i an instrument */
const offered = (i) => el("option", { value: i.id }, i.name);

/** @param {HTMLSelectElement} pick */
function offerAll(pick) {
  if (pick.length === instruments.length) return;
  const chosen = pick.value;
  pick.replaceChildren(...instruments.map(offered));
  pick.value = chosen;
}

/** @param {any} c a chair */
function seat(c) {
  const n = nextSeat++;
  const field = (key, label, value, more = {}) =>
    el("input", { type: "text", "data-key": key, "aria-label": label, placeholder: label, value: value ?? "", maxlength: 60, ...more });
  const pick = el("select", { "data-key": "instrument", "aria-label": phrase("setup.seat.instrument"), class: "inst" },
    offered(instruments.find((i) => i.id === c.instrument) ?? instruments[0]));
  // The list is long: it comes once somebody looks at it.
  for (const e of ["focus", "pointerdown"]) pick.addEventListener(e, () => offerAll(pick));
  const slides = el("div", { class: "slides" });
  pick.addEventListener("change", () => fillSlides(slides, pick.value, {}, {}, n));
  const root = el("li", { class: "seat" },
    field("row", phrase("setup.seat.row.long"), c.row + 1, { type: "number", min: 1, max: 40 }),
    field("label", phrase("setup.seat.label"), c.label), field("name", phrase("setup.seat.name"), c.name), field("part", phrase("setup.seat.part"), c.part, { class: "part-of" }), pick,
    el("span", { class: "tools" },
      tool("↑", phrase("setup.seat.earlier"), () => root.previousElementSibling?.before(root)),
      tool("↓", phrase("setup.seat.later"), () => root.nextElementSibling?.after(root)),
      tool("×", phrase("setup.seat.out"), (e) => {
        while (e.shiftKey && root.nextElementSibling) root.nextElementSibling.remove(); // who filled the section came last
        root.remove();
      }, phrase("setup.seat.out.why"))),
    el("details", {}, el("summary", {}, phrase("setup.slides")), slides));
  root.chair = c;
  fillSlides(slides, c.instrument || instruments[0]?.id, c.settings ?? {}, c.travel ?? {}, n);
  return root;

  function tool(sign, label, act, title = label) {
    return el("button", {
      type: "button", "aria-label": phrase("setup.seat.tool", c.label || phrase("setup.seat.this"), label), title,
      onclick: (e) => { act(e); edited(); if (root.isConnected) e.currentTarget.focus(); },
    }, sign);
  }
}

/** As finely as a slide is set by hand; a field takes no more. @param {number|undefined} mm @param {number} step */
const byHand = (mm, step) => (mm === undefined ? "" : Math.round(mm / step) * step);

function fillSlides(box, id, settings, travel, n) {
  const inst = instruments.find((i) => i.id === id);
  const slides = (inst?.slides ?? []).filter((s) => s.legs > 0);
  box.replaceChildren(...slides.map((s) => {
    const at = `s${n}-${s.id}`;
    return el("div", {}, el("b", {}, s.name),
      el("label", { for: at }, phrase("setup.slides.out")),
      el("input", { id: at, type: "number", step: "0.5", min: 0, max: 1000, "data-slide": s.id, value: byHand(settings[s.id], 0.5), placeholder: s.usual_mm }),
      el("label", { for: at + "t" }, phrase("setup.slides.travel")),
      el("input", { id: at + "t", type: "number", step: "1", min: 0, max: 1000, "data-travel": s.id, value: byHand(travel[s.id], 1), placeholder: s.travel_mm }));
  }));
}

/** Whether the section says temperatures in °F. @param {any} s */
const american = (s) => s.language === "en-US";

/** @param {number} x */
const tenth = (x) => Math.round(10 * x) / 10;

/** Reads "21", "21,5 °C" or "70 F" in °C; 0 for nothing. No room has more than 40 °C: such a number is in °F. @param {string} text */
function celsius(text) {
  const m = /^\s*(-?\d+(?:[.,]\d+)?)\s*°?\s*([cf]?)\s*$/i.exec(text);
  if (!m) return 0;
  const x = Number(m[1].replace(",", "."));
  return tenth(inFahrenheit(text) ? (x - 32) / 1.8 : x) || 0.01; // 0 on record is not said
}

/** @param {string} text */
const inFahrenheit = (text) => /f\s*$/i.test(text) || !/c\s*$/i.test(text) && parseFloat(text) > 40;

/** Says the room in the other unit, and what cannot be one. */
function sayRoom() {
  const text = byID("temp").value.trim(), c = celsius(text);
  const fits = text === "" || c > 0 && c <= 40;
  byID("temp").setCustomValidity(fits ? "" : phrase("setup.room.wrong"));
  say(byID("temp-other"), fits && text ? (inFahrenheit(text) ? `${tenth(c)} °C` : `${Math.round(1.8 * c + 32)} °F`) : phrase("setup.room.example"));
}

/** What the page has asked for last of a room. */
let foretold = "";

/** Says where the section will stand in the room, and offers the A that goes with it. */
async function foretell() {
  const room = byID("temp").validity.valid ? byID("temp").value.trim() : "";
  foretold = room;
  const e = room ? await ask(`/api/evening?room=${encodeURIComponent(room)}`).catch(() => null) : null;
  if (room !== foretold) return; // another is on its way
  byID("evening").hidden = !e;
  if (!e) return;
  const choose = byID("evening-a4");
  say(byID("evening").firstElementChild, e.words);
  choose.hidden = e.a4 === Number(byID("a4").value);
  say(choose, phrase("setup.a4.choose", e.a4));
  choose.onclick = () => {
    byID("a4").value = e.a4;
    choose.hidden = true;
    byID("a4").focus();
    edited();
  };
}

/** Reads the form back into a section. */
function gather() {
  const s = structuredClone(section);
  s.name = byID("name").value.trim();
  s.reference = { a4: Number(byID("a4").value) };
  s.temperature_c = celsius(byID("temp").value);
  s.notes = byID("names").value === styles[0].value ? undefined : byID("names").value;
  s.language = byID("language").value === OWN ? undefined : byID("language").value;
  s.fixed_pitch = byID("fixed").checked;
  s.hide_names = byID("hide").checked;
  const f = new FormData(byID("form"));
  [s.good_cents, s.watch_cents] = String(f.get("band") ?? "5/10").split("/").map(Number);
  s.order = f.get("order");
  s.tuning = f.get("tuning") || undefined;
  s.horn_order = f.get("horns") || undefined;
  s.arc = f.get("seating") === "arc";
  const had = new Map((section.tuning_notes ?? []).map((n) => [n % 12, n]));
  const wanted = f.getAll("note").map(Number);
  // Notes keep their order; new ones come after.
  s.tuning_notes = [...(section.tuning_notes ?? []).filter((n) => wanted.includes(n % 12)), ...wanted.filter((c) => !had.has(c)).map((c) => 48 + c)];
  const places = new Map();
  s.chairs = [...byID("seats").children].map((li) => {
    const c = structuredClone(li.chair);
    for (const i of li.querySelectorAll("[data-key]")) c[i.dataset.key] = i.value.trim();
    c.row = Math.max(0, Number(c.row) - 1 || 0);
    c.place = places.get(c.row) ?? 0;
    places.set(c.row, c.place + 1);
    c.settings = numbers(li, "slide");
    c.travel = numbers(li, "travel");
    return c;
  });
  return s;
}

function numbers(li, key) {
  const out = {};
  for (const i of li.querySelectorAll(`[data-${key}]`)) if (i.value !== "") out[i.dataset[key]] = Number(i.value);
  return out;
}

/** Notes a change of the form, to be saved or taken back. */
function edited() {
  const now = gather();
  if (JSON.stringify(now) === JSON.stringify(present)) return;
  past.push(present);
  present = now;
  showChanged();
}

function showChanged() {
  const unsaved = past.length > 0;
  // What was done on another page is taken back there, not here.
  const saved = canUndo !== "" && canUndo === ownUndo;
  say(byID("said"), unsaved ? phrase("setup.unsaved") : "");
  say(byID("undo-edit"), !unsaved && saved ? phrase("setup.undo.what", canUndo) : phrase("setup.undo"));
  byID("undo-edit").disabled = !unsaved && !saved;
}

/** Whether two values of the form are the same. @param {any} a @param {any} b */
const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

/**
 * What was changed in the form, laid over what the hub has by now: who joined
 * or was changed elsewhere meanwhile stays as it is.
 * @param {any} theirs the section as the hub has it now @param {any} mine the form
 */
function merged(theirs, mine) {
  const out = changed(theirs, mine, loaded, ["chairs"]);
  const was = new Map(loaded.chairs.map((c) => [c.id, c]));
  const now = new Map((theirs.chairs ?? []).map((c) => [c.id, c]));
  const kept = mine.chairs.map((c) => (c.id === 0 || !was.has(c.id) ? c
    : now.has(c.id) ? changed(now.get(c.id), c, was.get(c.id), []) : null)).filter(Boolean);
  const here = new Set(mine.chairs.map((c) => c.id));
  const late = (theirs.chairs ?? []).filter((c) => !here.has(c.id) && !was.has(c.id));
  out.chairs = [...kept, ...late];
  return out;
}

/** Their record with the fields that differ between mine and what it was. @param {any} theirs @param {any} mine @param {any} was @param {string[]} but */
function changed(theirs, mine, was, but) {
  const out = structuredClone(theirs);
  for (const key of Object.keys(mine)) if (!but.includes(key) && !same(mine[key], was[key])) out[key] = mine[key];
  return out;
}

/** Brings chairs that joined since the form was filled into it. @param {any[]} chairs of a row */
async function takeInLate(chairs) {
  const strange = (cs) => {
    const known = new Set([...loaded.chairs, ...[...byID("seats").children].map((li) => li.chair)].map((c) => c.id));
    return cs.filter((c) => !known.has(c.id));
  };
  if (strange(chairs).length === 0) return;
  const s = await ask("/api/section");
  if (s.id !== section.id) return;
  for (const c of strange(s.chairs ?? [])) { // the form may have been filled anew meanwhile
    byID("seats").append(seat(c));
    const asRead = gather().chairs.find((g) => g.id === c.id);
    for (const form of new Set([loaded, present, ...past])) form.chairs.push(structuredClone(asRead));
  }
}

/** Shows what cannot be saved beside its field. @returns {boolean} whether all can be */
function valid() {
  for (const old of document.querySelectorAll(".fault")) old.remove();
  const wrong = [...byID("form").querySelectorAll("input")].filter((i) => !i.checkValidity());
  for (const i of wrong) {
    i.closest("details")?.setAttribute("open", "");
    const id = i.id || (i.id = `field${nextSeat++}`);
    i.after(el("span", { class: "fault", id: id + "-fault" }, i.validationMessage));
    put(i, "aria-describedby", id + "-fault");
  }
  if (wrong.length > 0) {
    wrong[0].focus();
    say(byID("said"), phrase("setup.faulty"));
  }
  return wrong.length === 0;
}

async function save() {
  if (!valid()) return;
  try {
    const theirs = await ask("/api/section");
    if (!await command({ do: "edit", section: merged(theirs, gather()) }, phrase("setup.saved.now"))) return;
    ownUndo = canUndo;
    showChanged();
    say(byID("said"), phrase("setup.saved.now"));
  } catch (e) {
    say(byID("said"), /** @type {Error} */ (e).message);
  }
}

/** Takes back the last change of the form, or else what the hub did last. */
function undo() {
  if (past.length > 0) fill(past.pop());
  else command({ do: "undo" }, phrase("setup.undone"));
}

/** @param {any} c a command @param {string} done */
async function command(c, done) {
  try {
    await ask("/api/command", { json: c });
    await load();
    say(byID("said"), done);
    return true;
  } catch (e) {
    say(byID("said"), /** @type {Error} */ (e).message);
    return false;
  }
}

async function load() {
  const [s, all, row, list, names] = await Promise.all([ask("/api/section"), ask("/api/sections"), ask("/api/row"),
    instruments.length ? instruments : ask("/api/instruments"), styles.length ? styles : ask("/api/names")]);
  if ((row.language || "en") !== document.documentElement.lang) location.reload();
  instruments = list;
  styles = names;
  canUndo = row.can_undo ?? "";
  byID("tight").hidden = !s.arc || row.arc;
  show(s);
  byID("saved").replaceChildren(...all.map((o) => el("li", {},
    el("span", {}, el("b", { class: "poster" }, o.name), " " + phrase("setup.saved.chairs", o.chairs)),
    o.id === s.id ? el("span", { class: "soft" }, phrase("setup.open.now"))
      : el("button", { type: "button", "aria-label": phrase("setup.open.which", o.name), onclick: () => command({ do: "open", name: o.name }, phrase("setup.opened", o.name)) }, phrase("setup.open")))));
}

byID("save").addEventListener("click", save);
byID("undo-edit").addEventListener("click", undo);
byID("add").addEventListener("click", () => {
  const last = byID("seats").lastElementChild;
  const n = seat({ id: 0, row: last ? Number(last.querySelector('[data-key="row"]').value) - 1 : 0, place: 0, label: "", name: "", part: "",
    instrument: last?.querySelector("select").value ?? instruments[0]?.id, absent: false, settings: {}, travel: {} });
  byID("seats").append(n);
  n.querySelector('[data-key="label"]').focus();
  edited();
});
byID("new").addEventListener("click", () => {
  const name = byID("new-name").value.trim();
  if (name) command({ do: "open", name }, phrase("setup.opened", name));
});
byID("file").addEventListener("change", async (e) => {
  const file = e.target.files[0];
  if (!file) return;
  try {
    const r = await ask("/section.csv", { body: file });
    await load();
    say(byID("said"), phrase("setup.csv.done", r.chairs));
  } catch (err) {
    say(byID("said"), /** @type {Error} */ (err).message);
  }
  e.target.value = "";
});
byID("temp").addEventListener("input", () => { sayRoom(); foretell(); });
byID("a4").addEventListener("input", foretell);
byID("names").addEventListener("change", () => byID("notes").querySelectorAll("span").forEach((s, i) => { s.textContent = style().classes[i]; }));
byID("form").addEventListener("change", edited);
addEventListener("beforeunload", (e) => {
  edited(); // a field that is still being written in
  if (past.length > 0) e.preventDefault();
});
load().then(() => follow("/ws/row", (b) => takeInLate(b.chairs ?? []).catch(() => { /* the next row tries again */ }), () => {}),
  (e) => say(byID("said"), e.message));
