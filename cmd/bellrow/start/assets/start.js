// @ts-check
import { el, say, byID } from "./dom.js";
import { phrase } from "./words.js";

const other = "\u0000another";
let drawn = "";

/** @param {string} text */
function notice(text) {
  say(byID("notice"), text);
  byID("notice").hidden = !text;
}

/** One radio button for each thing to choose from.
 * @param {string} id @param {string} name @param {{value: string, text: string}[]} list */
function choices(id, name, list) {
  const box = byID(id);
  const legend = box.querySelector("legend");
  const radios = list.map((c, i) => {
    const r = el("input", { type: "radio", name, value: c.value });
    r.checked = i === 0;
    return el("label", {}, r, el("span", {}, c.text));
  });
  box.replaceChildren(...(legend ? [legend] : []), ...radios);
  box.hidden = list.length === 0;
}

/** @param {string} form @param {string} name */
function chosen(form, name) {
  const r = /** @type {HTMLInputElement|null} */ (byID(form).querySelector(`input[name="${name}"]:checked`));
  return r ? r.value : "";
}

function naming() {
  const sections = !byID("sections").hidden;
  byID("naming").hidden = sections && chosen("lead", "choice") !== other;
}

/** @param {any} known */
function show(known) {
  notice(known.trouble);
  for (const [what, running] of [["play", known.playing], ["lead", known.leading]]) {
    byID(what).hidden = Boolean(running);
    byID(what + "ing").hidden = !running;
    if (running) /** @type {HTMLAnchorElement} */ (byID(what + "-link")).href = running.link;
  }
  say(byID("lead-name"), known.leading ? phrase("start.leading", known.leading.name) : "");
  say(byID("seat"), known.seat ? phrase("start.last", known.seat) : "");
  const now = JSON.stringify([known.hubs, known.sections]);
  if (now === drawn) return; // what was chosen stays chosen
  drawn = now;
  byID("none").hidden = known.hubs.length > 0;
  choices("hubs", "hub", known.hubs.map((h) => ({ value: h.address, text: phrase("start.hub", h.name, h.address) })));
  const sections = known.sections.map((s) => ({ value: s, text: s }));
  choices("sections", "choice", sections.length ? [...sections, { value: other, text: phrase("start.another") }] : []);
  naming();
}

/** Opens a page in a window of its own, which has to be asked for at once.
 * @param {string} path @param {Record<string, string>} values */
async function open(path, values) {
  const w = window.open("", "_blank");
  try {
    const answer = await fetch("api/" + path, { method: "POST", body: new URLSearchParams(values) });
    const said = await answer.json();
    if (!answer.ok) throw new Error(said.error);
    if (w) {
      w.opener = null;
      w.location.replace(said.link);
    } else {
      location.assign(said.link);
    }
    notice("");
  } catch (e) {
    w?.close();
    notice(e instanceof TypeError ? phrase("start.stopped") : /** @type {Error} */ (e).message);
    return;
  }
  await look();
}

async function look() {
  const answer = await fetch("api/known").catch(() => null);
  if (answer?.ok) return show(await answer.json());
  notice(phrase("start.stopped.close"));
  document.querySelectorAll("button:not([data-theme-switch])").forEach((b) => { /** @type {HTMLButtonElement} */ (b).disabled = true; });
  clearInterval(timer);
}

byID("play").addEventListener("submit", (e) => { e.preventDefault(); open("play", { hub: chosen("play", "hub") }); });
byID("lead").addEventListener("submit", (e) => {
  e.preventDefault();
  const c = byID("sections").hidden ? other : chosen("lead", "choice");
  open("lead", { section: c === other ? /** @type {HTMLInputElement} */ (byID("section")).value.trim() : c });
});
byID("sections").addEventListener("change", naming);
byID("stop").addEventListener("click", async () => {
  await fetch("api/stop", { method: "POST" }).catch(() => null);
  setTimeout(look, 500);
});
const timer = setInterval(look, 3000);
look();
