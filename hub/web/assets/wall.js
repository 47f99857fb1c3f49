// @ts-check
import { el, put, say, byID, ask } from "./dom.js";
import { phrase } from "./words.js";
import { SectionView, followRow } from "./section.js";
import { divideWall, othersInWords, shrinkToFit } from "./fit.js";
import { Groups } from "./groups.js";
import { keepAwake } from "./awake.js";

const view = new SectionView({});
const wide = matchMedia("(min-width: 56.01rem)");

/* Capitals are 0.7 of the type and the type 0.64 of its line: so they stand
   2.5 % of the picture high, 25 mm on one a metre high, legible at 4 m. */
const FLOOR = 0.056, CEILING = 0.15;

const groups = new Groups(() => layout());

function layout() {
  const group = groups.show(view.board);
  const chairs = (view.board?.chairs ?? []).filter((c) => !group || group.has(c.id));
  const seats = byID("seats");
  shrinkToFit(byID("say"), wide.matches ? 1.8 : 1);
  if (!wide.matches) {
    put(document.body, "data-columns", 1);
    for (const [id, line] of view.lines) line.root.hidden = Boolean(group && !group.has(id));
    say(byID("others"), "");
    return;
  }
  const room = {
    width: seats.clientWidth, floor: FLOOR * innerHeight, ceiling: CEILING * innerHeight,
    height: byID("foot").getBoundingClientRect().top - seats.getBoundingClientRect().top - 8,
  };
  const d = divideWall(room, chairs);
  put(document.body, "data-columns", d.columns);
  seats.style.setProperty("--columns", String(d.columns));
  seats.style.setProperty("--lines", String(d.lines));
  document.body.style.setProperty("--line", d.line + "px");
  for (const [id, line] of view.lines) line.root.hidden = !d.keep.has(id);
  const labels = [...view.lines.values()].map((line) => line.label);
  for (const l of labels) put(l, "data-long", false);
  for (const l of labels.filter((l) => l.scrollWidth > l.clientWidth)) put(l, "data-long", true);
  // A move is read whole: some languages take more room for it than its column has.
  const answers = [...view.lines.values()].map((line) => /** @type {HTMLElement} */ (line.root.querySelector(".answer")));
  for (const a of answers) put(a, "data-long", false);
  for (const a of answers.filter((a) => a.scrollWidth > a.clientWidth || a.offsetLeft + a.offsetWidth > a.parentElement.offsetLeft + a.parentElement.clientWidth)) put(a, "data-long", true);
  say(byID("others"), othersInWords(d.left));
}

addEventListener("resize", layout);
document.fonts?.ready.then(layout);
/** How to join, while nobody has; the code stands here only for who may see it. */
async function showDoor() {
  if (byID("address").textContent || (view.board?.chairs ?? []).length > 0) return;
  const inv = await ask("/api/invitation").catch(() => ({}));
  say(byID("address"), inv.telephones || inv.addresses?.[0] || location.host);
  say(byID("code"), inv.code);
}

followRow("?for=wall", (b) => {
  view.show(b);
  layout();
  showDoor();
}, () => {});

/* The sentence alone, in the largest type that holds it, for two seconds. */
let back = 0;
function sentenceAlone() {
  const alone = byID("alone");
  alone.replaceChildren(el("p", { class: "poster" }, byID("say").textContent));
  alone.hidden = false;
  shrinkToFit(/** @type {HTMLElement} */ (alone.firstElementChild), 1.8);
  clearTimeout(back);
  back = setTimeout(() => { alone.hidden = true; }, 2000);
}
addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  if (e.key === " " && e.target === document.body) { e.preventDefault(); sentenceAlone(); }
  if (e.key.toLowerCase() === "f") fullScreen();
  if (e.key.toLowerCase() === "g") groups.toggle();
});

/* The whole screen, where the browser gives it, and awake while it is seen. */
const full = byID("full");
full.hidden = !document.fullscreenEnabled;
full.addEventListener("click", fullScreen);
function fullScreen() {
  if (document.fullscreenElement) document.exitFullscreen();
  else document.documentElement.requestFullscreen?.().catch(() => { full.hidden = true; });
}
document.addEventListener("fullscreenchange", () => say(full, phrase(document.fullscreenElement ? "row.whole-screen.leave" : "row.whole-screen")));

keepAwake();
