// @ts-check
import { el, say, byID, ask } from "./dom.js";
import { phrase } from "./words.js";

/** How often the page looks who waits; laptops ask again each few seconds. */
const lookEvery = 3000;

let locked = false;
let older = false;

/** @param {{locked: boolean, older: boolean, olderCode?: string, waiting: {node: string, chair: string, from: string, why: string}[]}} d */
function draw(d) {
  ({ locked, older } = d);
  byID("door").hidden = false;
  say(byID("lock"), phrase(locked ? "join.door.unlock" : "join.door.lock"));
  say(byID("older"), phrase(older ? "join.door.no-older" : "join.door.older"));
  say(byID("older-code"), d.olderCode ? phrase("join.door.older-code", d.olderCode) : "");
  say(byID("nobody"), d.waiting.length ? "" : phrase("join.door.nobody"));
  const list = byID("waiting");
  const key = JSON.stringify(d.waiting.map((w) => [w.node, w.why, w.chair]));
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  list.replaceChildren(...d.waiting.map((w) => {
    const b = el("button", { class: "plain", type: "button" }, phrase("join.door.let-in"));
    b.addEventListener("click", () => act({ do: "admit", node: w.node }));
    return el("li", {}, phrase("join.waits." + w.why, w.chair, w.from) + " ", b);
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
