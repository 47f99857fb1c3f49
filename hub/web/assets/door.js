// @ts-check
import { el, say, byID, ask } from "./dom.js";

/** Why a laptop waits, in words. @type {Record<string, string>} */
const whys = {
  locked: "is new, and the section is locked",
  older: "has an older bellrow, which sends the code openly",
  alike: "has a name that looks like another one here",
  taken: "wants a chair at which another laptop is at work",
};

/** How often the page looks who waits; laptops ask again each few seconds. */
const lookEvery = 3000;

let locked = false;
let older = false;

/** @param {{locked: boolean, older: boolean, olderCode?: string, waiting: {node: string, chair: string, from: string, why: string}[]}} d */
function draw(d) {
  ({ locked, older } = d);
  byID("door").hidden = false;
  say(byID("lock"), locked ? "Let newcomers in again" : "Lock the section: nobody new");
  say(byID("older"), older ? "No more older laptops" : "Let older laptops in");
  say(byID("older-code"), d.olderCode ? `They type ${d.olderCode}. Who listens in on the network can read it.` : "");
  say(byID("nobody"), d.waiting.length ? "" : "Nobody waits.");
  const list = byID("waiting");
  const key = JSON.stringify(d.waiting.map((w) => [w.node, w.why, w.chair]));
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  list.replaceChildren(...d.waiting.map((w) => {
    const b = el("button", { class: "plain", type: "button" }, "Let in");
    b.addEventListener("click", () => act({ do: "admit", node: w.node }));
    return el("li", {}, `“${w.chair}” at ${w.from} ${whys[w.why] ?? ""}. `, b);
  }));
}

/** @param {object} what */
async function act(what) {
  try {
    draw(await ask("/api/door", { json: what }));
    document.dispatchEvent(new Event("door"));
  } catch (e) {
    say(byID("nobody"), e instanceof Error ? e.message : String(e));
  }
}

/** Shows the door to the leader. */
export async function openDoor() {
  byID("new-code").addEventListener("click", () => act({ do: "code" }));
  byID("lock").addEventListener("click", () => act({ do: "lock", on: !locked }));
  byID("older").addEventListener("click", () => act({ do: "older", on: !older }));
  for (;;) {
    const d = await ask("/api/door").catch(() => null);
    if (d) draw(d);
    await new Promise((r) => setTimeout(r, lookEvery));
  }
}
