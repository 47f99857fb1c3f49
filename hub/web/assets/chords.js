// @ts-check
import { el, say, byID, ask } from "./dom.js";
import { phrase } from "./words.js";
import { toneRail } from "./tones.js";

const INVERSIONS = ["", ", first inversion", ", second inversion", ", third inversion", ", fourth inversion", ", fifth inversion"];
const SEVENTHS = [["", phrase("row.chords.seventh.pure")], [" (16/9)", phrase("row.chords.seventh.moves")], [" (tempered)", phrase("row.chords.seventh.tempered")]];
const TUNINGS = [["", phrase("row.chords.tuned.section")], ["just", phrase("row.chords.tuned.just")], ["equal", phrase("row.chords.tuned.equal")], ["keyboard", phrase("row.chords.tuned.keyboard")]];
const ANCHORS = ["consensus", "bass", "reference"].map((a) => [a, phrase("row.chords.anchor." + a)]);
const SHAPES = [["", phrase("row.chords.shape.even")], ["bottom-heavy", phrase("row.chords.shape.bottom")]];

/** A pause in typing, in ms, after which a chord that is being written is looked up. */
const TYPED = 300;

/** The choice of a chord, and who plays which tone of it. */
export class ChordDialog {
  /**
   * @param {(c: any) => void} command
   * @param {(button: HTMLElement, note: () => number|undefined) => void} sounds lets a button sound a note
   * @param {() => boolean} listening whether somebody is listened to
   */
  constructor(command, sounds, listening) {
    this.command = command;
    this.listening = listening;
    this.dialog = byID("chords");
    this.form = this.dialog.querySelector("form");
    /** @type {any} the chord as the hub would hand it out, null while it is none */
    this.sheet = null;
    /** @type {Map<number, any>} what each chair is to play */
    this.plays = new Map();
    /** @type {{id: number, tone: any}[]} what chairs had before they were changed by hand */
    this.changes = [];
    this.asked = 0;
    /** @type {any[]} KindChoices, fetched when the dialog is first wanted */
    this.kinds = [];
    this.form.addEventListener("change", (e) => {
      if (e.target.name === "kind") this.inRootPosition();
      if (e.target.type === "radio") this.load();
    });
    /** The chord that was chosen among those that the text can mean, as the hub names it. */
    this.meant = "";
    byID("chord-text").addEventListener("input", () => {
      this.meant = "";
      clearTimeout(this.typing);
      this.typing = setTimeout(() => this.load(), TYPED);
    });
    byID("tones-undo").addEventListener("click", () => this.takeBack());
    sounds(byID("chords-sound"), () => this.sheet?.root);
    byID("chords-no").addEventListener("click", () => this.dialog.close("no"));
    this.dialog.addEventListener("close", () => { if (this.dialog.returnValue === "call") this.call(); });
  }

  /** @param {number} root the pitch class to begin with */
  async open(root) {
    try {
      await (this.filling ??= this.begin(root));
    } catch (e) {
      this.filling = null; // and once more at the next opening
      say(byID("say"), /** @type {Error} */ (e).message);
      return;
    }
    this.dialog.returnValue = "no";
    byID("chords-sound").disabled = this.listening();
    this.dialog.showModal();
    this.form.querySelector("#roots input:checked").focus();
    this.load();
  }

  /** Fetches the kinds of chords and offers the choices. @param {number} root */
  async begin(root) {
    this.kinds = await ask("/api/chords");
    this.fillKinds();
    fill("roots", "root", this.kind().labels.map((r, i) => [String(i), r]), root);
    fill("sevenths", "seventh", SEVENTHS, 0);
    fill("tunings", "tuning", TUNINGS, 0);
    fill("anchors", "anchor", ANCHORS, 0);
    fill("shapes", "shape", SHAPES, 0);
  }

  /** @param {string} field */
  chosen(field) { return String(new FormData(this.form).get(field) ?? ""); }

  /** The chosen KindChoice. */
  kind() { return this.kinds.find((k) => k.quality === this.chosen("kind")); }

  /** One fold for each family of chords, the first open; what is chosen in a fold stands on it. */
  fillKinds() {
    const families = [...new Set(this.kinds.map((k) => k.family))];
    byID("kinds").append(...families.map((family, i) => el("details", { name: "family", open: i === 0 },
      el("summary", {}, this.kinds.find((k) => k.family === family).fold, el("b")),
      el("div", { class: "choices" }, ...this.kinds.filter((k) => k.family === family).map((k) => radio("kind", k.quality, k.label, k === this.kinds[0]))))));
  }

  /** Roots are called as the kind of chord calls them. */
  nameChoices() {
    const { labels } = this.kind();
    byID("roots").querySelectorAll("span").forEach((s, i) => { s.textContent = labels[i]; });
    for (const fold of byID("kinds").querySelectorAll("details")) {
      const kind = fold.querySelector("input:checked")?.value;
      fold.querySelector("b").textContent = kind ? this.kind().label : "";
    }
  }

  /** What is asked of the hub: the text as it is written, or the name of what was chosen. */
  query() {
    const text = this.chosen("text").trim();
    return text && !this.meant ? "text=" + encodeURIComponent(text) : "name=" + encodeURIComponent(this.meant || this.name());
  }

  name() {
    const { quality, roots, seventh } = this.kind();
    return roots[Number(this.chosen("root"))] + " " + quality + (seventh ? this.chosen("seventh") : "") + INVERSIONS[Number(this.chosen("inversion"))];
  }

  /** Another kind of chord may have fewer tones to put in the bass. */
  inRootPosition() {
    const first = this.form.querySelector("#inversions input");
    if (first) first.checked = true;
  }

  /** Asks the hub how it would hand the chord out. */
  async load() {
    const mine = ++this.asked;
    this.nameChoices();
    byID("sevenths").hidden = !this.kind().seventh;
    try {
      const sheet = await ask("/api/chord?" + this.query());
      if (mine !== this.asked) return;
      this.show(sheet);
    } catch (e) {
      if (mine !== this.asked) return;
      this.sheet = null;
      byID("chord-or").hidden = true;
      byID("board").replaceChildren();
      say(byID("chord-name"), "");
      say(byID("tones-say"), /** @type {Error} */ (e).message);
    }
    byID("chords-call").disabled = !this.sheet;
  }

  /** @param {any} sheet */
  show(sheet) {
    if (sheet.name !== this.sheet?.name) this.changes = [];
    const byHand = new Map(this.changes.map((c) => [c.id, this.plays.get(c.id)?.note]));
    this.sheet = sheet;
    say(byID("chord-name"), sheet.label);
    this.plays = new Map();
    for (const c of sheet.chairs) {
      const wanted = byHand.get(c.id);
      if (c.tones.some((t) => t.note === wanted)) c.tones.forEach((t) => { t.now = t.note === wanted; });
      this.plays.set(c.id, c.tones.find((t) => t.now));
    }
    fill("inversions", "inversion", sheet.tones.map((t, i) => [String(i), phrase("row.tone." + t)]), Number(this.chosen("inversion")));
    const text = this.chosen("text").trim();
    byID("inversions").hidden = text !== "";
    this.tellMeaning(text, sheet);
    this.draw();
  }

  /** Offers what else a text could mean; what it was read as stands above. @param {string} text @param {any} sheet */
  tellMeaning(text, sheet) {
    const box = byID("chord-or"), others = (text && sheet.or) || [];
    box.hidden = others.length === 0;
    box.replaceChildren(...others.map((o) =>
      el("button", { type: "button", onclick: () => { this.meant = o.name; this.load(); } }, phrase("row.chords.or", o.label))));
  }

  draw() {
    const notes = this.sheet.chairs.flatMap((c) => c.tones.map((t) => t.note));
    const axis = { low: Math.min(...notes), high: Math.max(...notes) };
    byID("board").replaceChildren(...this.sheet.chairs.map((c) => {
      const take = (tone, before) => this.change(c.id, tone, before);
      return el("li", {}, el("span", { class: "label" }, c.label), toneRail(c.label, c.tones, take, axis));
    }));
    this.tell();
  }

  /** @param {number} id @param {any} tone @param {any} before */
  change(id, tone, before) {
    this.changes.push({ id, tone: before });
    this.plays.set(id, tone);
    this.tell();
  }

  takeBack() {
    const last = this.changes.pop();
    if (!last) return;
    this.plays.set(last.id, last.tone);
    for (const c of this.sheet.chairs) c.tones.forEach((t) => { t.now = t === this.plays.get(c.id); });
    this.draw();
  }

  /** Says what the chord lacks as it is handed out. */
  tell() {
    const undo = byID("tones-undo");
    const played = [...this.plays.values()];
    const missing = this.sheet.tones.filter((name) => !played.some((t) => t.tone === name));
    const lowest = this.sheet.chairs.map((c) => this.plays.get(c.id)).reduce((a, b) => (a && a.note <= b.note ? a : b), null);
    const words = [];
    if (played.length === 0) words.push(phrase("row.chords.nobody"));
    else if (missing.length > 0) words.push(phrase("row.chords.missing", list(missing.map(the))));
    if (lowest && lowest.tone !== this.sheet.bass) words.push(capital(phrase("row.chords.lowest", the(lowest.tone), the(this.sheet.bass))));
    say(byID("tones-say"), words.join(" ") || phrase("row.chords.complete"));
    undo.disabled = this.changes.length === 0;
  }

  call() {
    const tones = Object.fromEntries([...this.plays].map(([id, t]) => [id, t.note]));
    this.command({ do: "call", call: {
      kind: "chord", chord: this.sheet.name, tones, together: true,
      tuning: this.chosen("tuning"), anchor: this.chosen("anchor"), shape: this.chosen("shape"),
    } });
  }
}

/** A tone of a chord, as a sentence names it. @param {string} tone */
const the = (tone) => phrase(tone ? "chord.tone." + tone : "row.tone.none");

/** @param {string[]} names */
const list = (names) => names.reduce((all, name) => phrase("unit.and", all, name));

/** @param {string} words */
const capital = (words) => words[0].toUpperCase() + words.slice(1);

/** Fills a set of choices after its legend. @param {string} set @param {string} name @param {string[][]} choices values and labels @param {number} chosen */
function fill(set, name, choices, chosen) {
  const box = byID(set);
  const had = box.contains(document.activeElement);
  box.replaceChildren(box.querySelector("legend"), ...choices.map(([value, label], i) =>
    radio(name, value, label, i === chosen)));
  if (had) box.querySelector("input:checked")?.focus();
}

/** @param {string} name @param {string} value @param {string} label @param {boolean} checked */
function radio(name, value, label, checked) {
  return el("label", { class: "choice" }, el("input", { type: "radio", name, value, checked }), el("span", {}, label));
}
