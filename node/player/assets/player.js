// @ts-check
import { el, put, say, byID, ask, keep, recall } from "./dom.js";
import { follow } from "./feed.js";
import { keepAwake } from "./awake.js";
import { speak, phrase as t } from "./words.js";
import { drawStaff, drawSlide } from "./draw.js";

/** @type {any} */
let sheet = null;
let announced = "";
let filled = false;
/** The player sits, and wants another seat. */
let moving = false;

/* A page by https is served by the leader's laptop to a telephone. */
const REMOTE = location.protocol === "https:";
/** Where a telephone keeps who sits here, for a hub that has lost it. */
const WISH = "bellrow-wish";

async function show(s) {
  sheet = s;
  await speak(s.language ?? "");
  if (s !== sheet) return; // a newer one came meanwhile
  const join = s.stage === "join" || moving;
  byID("join").hidden = !join;
  byID("play").hidden = join;
  byID("foot").hidden = join || s.phase === "over";
  byID("stay").hidden = !moving;
  byID("check").hidden = s.phase === "over" || !join && s.mic.good && !s.mic.browser;
  put(document.body, "data-phase", s.phase);
  put(document.body, "data-dark", s.dark);
  put(document.body, "data-enough", s.enough);
  showHead(s);
  showMic(s.mic);
  byID("names").value = s.wish.names ?? "";
  byID("language").value = s.wish.language ?? "";
  showMutes(s);
  if (join) showJoin(s);
  else showPlay(s);
}

function showHead(s) {
  say(byID("chair"), s.chair || s.wish.name || t("player.chair"));
  say(byID("section"), [s.instrument, s.section].filter(Boolean).join(" · "));
  say(byID("link"), s.link.state === "joined" ? t("player.connected") : s.stage === "play" ? s.link.words : "");
  say(byID("device"), s.stage === "play" && s.mic.device ? "· " + s.mic.device : "");
}

/** What can be in the bell, and what the player says is. @param {any} s */
function showMutes(s) {
  const all = s.mutes ?? [];
  byID("bell").hidden = all.length === 0;
  const list = byID("mute"), key = JSON.stringify(all);
  if (list.dataset.key !== key) {
    list.dataset.key = key;
    list.replaceChildren(...all.map((m) => el("option", { value: m.mute }, m.label)));
  }
  list.value = s.mute ?? "";
}

function showMic(m) {
  if (m.browser) import("./mic.js").catch(() => { /* the next sheet tries again */ }); // loaded once; it fills #mic
  say(byID("mic-device"), m.device || t("player.mic.device.none"));
  say(byID("mic-level"), m.level);
  say(byID("mic-noise"), m.noise || t("player.mic.room.listening"));
  const trouble = byID("mic-trouble");
  trouble.hidden = !m.trouble;
  say(trouble, [m.trouble, m.hint].filter(Boolean).join(" "));
}

function showPlay(s) {
  const headline = byID("say");
  say(headline, s.answer ? s.answer.headline : s.say);
  // A move is said in large type beside its drawing; once is enough for the eye.
  headline.classList.toggle("unseen", Boolean(s.answer?.moves?.length));
  const note = byID("note");
  note.hidden = !s.note;
  if (s.note) {
    say(byID("note-name"), s.note);
    say(byID("note-words"), [t("player.written", s.note), s.staff?.words, s.note_small].filter(Boolean).join(" · "));
    drawStaff(byID("staff"), s.staff);
  }
  showAnswer(s.answer);
  const notes = byID("notes");
  const key = JSON.stringify(s.notes ?? []);
  if (notes.dataset.key !== key) {
    notes.dataset.key = key;
    notes.replaceChildren(...(s.notes ?? []).map((n) => el("li", {}, n)));
  }
  byID("warming").hidden = !s.warming || s.phase === "play";
  say(byID("warming").firstElementChild, s.warming);
  put(byID("pause"), "aria-pressed", s.paused ? "true" : "false");
  say(byID("pause"), t(s.paused ? "player.go-on" : "player.pause"));
}

function showAnswer(a) {
  byID("answer").hidden = !a;
  if (!a) {
    announced = "";
    say(byID("heard"), ""); // what is past is not read aloud any more
    return;
  }
  const moves = byID("moves");
  const key = JSON.stringify(a.moves ?? []);
  if (moves.dataset.key !== key) {
    moves.dataset.key = key;
    moves.replaceChildren(...(a.moves ?? []).map(drawSlide));
  }
  say(byID("detail"), a.detail);
  say(byID("next"), a.next);
  say(byID("small"), a.small);
  byID("moved").hidden = a.moved || (a.moves ?? []).length === 0;
  byID("moved-note").hidden = !a.moved;
  byID("keep-offer").hidden = !a.keep;
  byID("kept").hidden = !a.kept;
  say(byID("kept"), a.kept ? t("player.kept", a.kept) : "");
  const answer = `${a.id} ${a.headline}`;
  if (answer !== announced) {
    announced = answer; // each answer is read aloud once in a language
    byID("refused").hidden = true; // it was about what is past
    say(byID("heard"), [a.headline, a.detail, a.next].filter(Boolean).join(" "));
  }
}

/* Taking a seat */
async function showJoin(s) {
  if (!filled) {
    filled = true;
    const kept = REMOTE && !s.wish.name ? JSON.parse(recall(WISH) ?? "{}") : {};
    const wish = { ...s.wish, ...kept };
    byID("name").value = wish.name ?? "";
    byID("part").value = wish.part ?? "";
    byID("code").value = s.wish.code ?? "";
    byID("hub").value = s.wish.hub ?? "";
    byID("instruments").dataset.chosen = wish.instrument ?? "";
  }
  await listInstruments();
  // What the hub refused stands on top; how the search goes, beside the button.
  const words = [s.link.words, s.link.hint].filter(Boolean).join(" "), refused = s.link.state === "refused";
  byID("why").hidden = !refused;
  say(byID("why"), refused ? words : "");
  say(byID("linkwords"), refused ? "" : words);
  say(byID("seated"), s.link.seated);
  byID("sit").disabled = s.link.joining;
  const key = s.link.found.join("|");
  const hubs = byID("hubs");
  if (hubs.dataset.key !== key) {
    hubs.dataset.key = key;
    hubs.replaceChildren(...s.link.found.map((f) => el("option", { value: f })));
    byID("older").hidden = s.link.found.length === 0;
    byID("sure").checked = false; // it was about what is past
    if (s.link.found.length > 0) byID("where").open = true;
  }
}

/** Lists the instruments, once in each language. */
async function listInstruments() {
  const list = byID("instruments"), language = document.documentElement.lang;
  if (list.dataset.language === language) return;
  list.dataset.language = language;
  const all = await ask("api/instruments").catch((e) => { delete list.dataset.language; throw e; });
  const chosen = list.querySelector(":checked")?.value ?? list.dataset.chosen;
  byID("instruments").replaceChildren(...all.map((i) =>
    el("label", { class: "choice", "data-words": `${i.name} ${i.family}`.toLowerCase() },
      el("input", { type: "radio", name: "instrument", value: i.id, checked: i.id === chosen }), el("span", {}, i.name))));
  byID("instruments").querySelector(":checked")?.scrollIntoView({ block: "nearest" });
}

byID("find").addEventListener("input", () => {
  const words = byID("find").value.toLowerCase().split(/\s+/).filter(Boolean);
  let any = false;
  for (const l of byID("instruments").children) {
    const fits = words.every((w) => l.dataset.words.includes(w));
    l.hidden = !fits;
    any ||= fits;
  }
  byID("none").hidden = any;
});

byID("find").addEventListener("keydown", (e) => {
  if (e.key !== "Enter") return;
  e.preventDefault(); // the first that fits is meant
  const first = [...byID("instruments").children].find((l) => !l.hidden)?.querySelector("input");
  if (first) { first.checked = true; first.focus(); }
});

// The players' link is understood in whichever field it is pasted into.
byID("form").addEventListener("paste", (e) => {
  const link = e.clipboardData?.getData("text").trim() ?? "";
  if (!/^https?:\/\//i.test(link) || e.target === byID("hub")) return;
  e.preventDefault();
  byID("hub").value = link;
  byID("where").open = true;
});

byID("form").addEventListener("submit", (e) => {
  e.preventDefault();
  const f = new FormData(e.target);
  const words = Object.fromEntries(["name", "part", "code", "hub", "instrument"].map((k) => [k, String(f.get(k) ?? "")]));
  send("api/join", { ...words, names: sheet.wish.names ?? "", language: sheet.wish.language ?? "", sure: f.has("sure") }).then((ok) => {
    if (!ok) return;
    if (REMOTE) keep(WISH, JSON.stringify({ name: words.name, part: words.part, instrument: words.instrument }));
    move(false);
  });
});

/** @param {boolean} on */
function move(on) {
  moving = on;
  show(sheet);
}
byID("move").addEventListener("click", () => move(true));
byID("stay").addEventListener("click", () => move(false));

/** @param {string} url @param {any} json @returns {Promise<boolean>} */
async function send(url, json) {
  const note = byID("refused");
  try {
    await ask(url, { json });
    note.hidden = true;
    return true;
  } catch (e) {
    say(note, /** @type {Error} */ (e).message);
    note.hidden = false;
    return false;
  }
}

byID("moved").addEventListener("click", () => send("api/moved", {}));
byID("warm").addEventListener("click", () => send("api/warm", {}));
byID("keep").addEventListener("click", () => send("api/keep", {}));
byID("pause").addEventListener("click", () => send("api/pause", { on: !sheet.paused }));

/* The language and the names of notes on this page alone */
document.addEventListener("words", () => {
  ask("api/names").then((all) => {
    byID("names").replaceChildren(byID("names").firstElementChild, ...all.map((y) => el("option", { value: y.value }, y.label)));
    byID("names").value = sheet?.wish.names ?? "";
  }, () => { /* then as the section has them */ });
});
ask("api/languages").then((all) => {
  byID("language").append(...all.map((l) => el("option", { value: l.tag, lang: l.tag }, l.name)));
  byID("language").value = sheet?.wish.language ?? "";
}, () => { /* then as the browser has it */ });
byID("language").addEventListener("change", () => send("api/language", { language: byID("language").value }));
byID("names").addEventListener("change", () => send("api/names", { names: byID("names").value }));

/* My slides */
byID("slides-open").addEventListener("click", () => {
  byID("slide-rows").replaceChildren(...sheet.slides.map(slideRow));
  if (sheet.slides.length === 0) byID("slide-rows").replaceChildren(el("p", { class: "soft" }, t("player.slides.none")));
  say(byID("slides-said"), "");
  byID("slides").showModal();
});
byID("slides-close").addEventListener("click", () => byID("slides").close());

/** @param {any} s */
function slideRow(s) {
  const id = `slide-${s.id}`;
  const half = (mm) => Math.round(2 * mm) / 2; // as finely as a slide is set by hand
  const stood = half(s.from_mm), known = half(s.travel_mm);
  const out = el("input", { id, type: "number", min: 0, max: 1000, step: "0.5", inputmode: "decimal", value: stood });
  const travel = el("input", { id: id + "-travel", type: "number", min: 0, max: 1000, step: "1", inputmode: "decimal", value: known || "" });
  // A travel that was only shown has not been measured.
  const measured = () => (Number(travel.value) === known ? 0 : Number(travel.value || 0));
  return el("form", {
    class: "sliderow", novalidate: true, onsubmit: async (e) => {
      e.preventDefault();
      const ok = await send("api/setting", { slide: s.id, mm: Number(out.value), travel_mm: measured() });
      say(byID("slides-said"), ok ? t("player.slides.noted", s.name, out.value) : byID("refused").textContent);
    },
  },
    el("b", {}, s.name),
    el("label", { for: id }, t("player.slides.stands")), out,
    el("label", { for: id + "-travel" }, t("player.slides.travel")), travel,
    el("button", {}, t("player.slides.note")));
}

const offline = () => say(byID("offline"), t(REMOTE ? "player.offline.there" : "player.offline.here"));
document.addEventListener("words", offline);

follow("ws", show, (up) => {
  byID("offline").hidden = up || sheet?.phase === "over";
  if (up) return;
  say(byID("link"), "");
  if (REMOTE) seatGone();
});

/** A telephone whose seat the hub does not have any more is sent to the door. */
async function seatGone() {
  const answer = await fetch(location.href, { redirect: "manual", cache: "no-store" }).catch(() => null);
  if (answer?.type === "opaqueredirect") location.replace("/#gone");
}

keepAwake();
