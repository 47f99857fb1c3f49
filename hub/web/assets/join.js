// @ts-check
import { el, say, byID, ask } from "./dom.js";
import { phrase } from "./words.js";
import { openDoor } from "./door.js";

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
  notice(phrase(!answer ? "join.notice.silent" : answer.status === 429 ? "join.notice.too-many" : "join.notice.other-link"));
  return false;
}

/** @param {string} text */
function notice(text) {
  say(byID("notice"), text);
  byID("notice").hidden = false;
}

/** The code of a join link stands after the # too. */
function codeOfLink() {
  const code = new URLSearchParams(location.hash.slice(1)).get("code") ?? "";
  return /^([0-9A-Z]{2}){3,4}$/.test(code) ? code.slice(0, code.length / 2) + " " + code.slice(code.length / 2) : "";
}

/** @returns {Promise<boolean>} whether it is the leader who looks */
async function show() {
  const inv = await ask("/api/invitation");
  const code = inv.code || codeOfLink();
  say(byID("section"), inv.section);
  byID("to-row").hidden = byID("to-setup").hidden = !inv.leader;
  byID("code").hidden = !code;
  byID("ask").hidden = Boolean(code);
  say(byID("code"), code);
  byID("links").replaceChildren(...inv.addresses.map((a) => el("li", {}, a)));
  byID("phones-play").hidden = !inv.telephones;
  byID("phones-watch").hidden = Boolean(inv.telephones);
  if (inv.telephones) {
    const [before, after] = phrase("join.phone.play", "\n").split("\n");
    byID("phones-play").replaceChildren(before, el("span", { class: "address" }, inv.telephones), after);
  }
  const qr = byID("qr");
  qr.hidden = inv.addresses.length === 0 && !inv.telephones;
  if (!qr.hidden) qr.src = "/qr.svg?code=" + encodeURIComponent(code); // the picture changes with the code
  return inv.leader;
}

if (!(await handInKey())) {
  if (new URLSearchParams(location.search).get("leader") === "no") {
    notice(phrase("join.notice.leader"));
  }
  // The hub hands out the packages that lie beside it, if there are any.
  ask("/get/list.json").then((list) => {
    byID("fetch").hidden = list.length === 0;
    byID("fetch-none").hidden = list.length > 0;
  }, () => {}); // a page without a hub's own packages shows what it did
  document.addEventListener("door", () => show().catch((e) => notice(e.message)));
  show().then((leader) => leader && openDoor()).catch((e) => notice(e.message));
}
