// @ts-check
/* The door for telephones: the code in, the own page out. A telephone that
   was here before goes back to its page. */
import { byID, say, ask, keep, recall } from "./dom.js";

const SEAT = "bellrow-seat", CODE = "bellrow-code";

const link = new URLSearchParams(location.hash.slice(1));
const gone = link.has("gone");
byID("gone").hidden = !gone;
if (gone) localStorage.removeItem(SEAT);
byID("code").value = link.get("code") ?? recall(CODE) ?? "";
history.replaceState(null, "", location.pathname);

const seat = recall(SEAT);
if (seat && /^\/[0-9A-Za-z]+\/$/.test(seat)) location.replace(seat);

byID("door").addEventListener("submit", async (e) => {
  e.preventDefault();
  say(byID("said"), "");
  try {
    const { path } = await ask("enter", { json: { code: byID("code").value } });
    keep(SEAT, path);
    keep(CODE, byID("code").value);
    location.replace(path);
  } catch (problem) {
    say(byID("said"), /** @type {Error} */ (problem).message);
  }
});
