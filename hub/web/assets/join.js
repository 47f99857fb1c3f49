// @ts-check
import { el, say, byID, ask } from "./dom.js";

/** The leader's link holds the key after the #, which no server ever sees; it is handed in once and taken out of the address. */
async function handInKey() {
  const key = new URLSearchParams(location.hash.slice(1)).get("key");
  if (!key) return false;
  history.replaceState(null, "", location.pathname);
  const answer = await fetch("/leader", { method: "POST", body: new URLSearchParams({ key }) }).catch(() => null);
  if (answer?.ok) {
    location.replace("/row");
    return true;
  }
  notice(answer ? "That is not this hub’s leader’s link. Use the one the hub printed when it started." : "The hub does not answer.");
  return false;
}

/** @param {string} text */
function notice(text) {
  say(byID("notice"), text);
  byID("notice").hidden = false;
}

async function show() {
  const asked = new URLSearchParams(location.search);
  const inv = await ask("/api/invitation" + (asked.has("join") ? "?join=" + encodeURIComponent(asked.get("join") ?? "") : ""));
  say(byID("section"), inv.section);
  byID("to-row").hidden = byID("to-setup").hidden = !inv.leader;
  byID("code").hidden = !inv.code;
  byID("ask").hidden = Boolean(inv.code);
  say(byID("code"), inv.code);
  byID("links").replaceChildren(...inv.links.map((l) => el("li", {}, l.replace(/^http:\/\//, ""))));
  const qr = byID("qr");
  qr.hidden = inv.links.length === 0;
  if (!qr.hidden) qr.src = "/qr.svg" + (asked.has("join") ? location.search : "");
}

if (!(await handInKey())) {
  if (new URLSearchParams(location.search).get("leader") === "no") {
    notice("Only the leader opens that page. The hub printed the leader’s link when it started.");
  }
  show().catch((e) => notice(e.message));
}
