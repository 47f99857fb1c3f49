// @ts-check
/* The words of a page in its language. They stand in the page, as its template
   put them there, or are fetched: then the page is written in English, and a
   translation replaces it as a whole. */
import { ask, put, say } from "./dom.js";

/** @type {Record<string, any>} texts, and choices by plural */
let texts = JSON.parse(document.getElementById("words")?.textContent || "{}");
/** @type {string|null} */
let language = null;
/** What was asked for last. @type {string|null} */
let wanted = null;

/**
 * Puts the page into a language, "" for English. What code says is said anew on
 * the event "words".
 * @param {string} tag
 */
export async function speak(tag) {
  wanted = tag;
  if (tag === language) return;
  const asked = await ask("api/words?language=" + encodeURIComponent(tag));
  if (tag !== wanted || tag === language) return; // answers may come late, and twice
  texts = asked;
  language = tag;
  document.documentElement.lang = tag || "en";
  for (const [attr, set] of Object.entries({
    "data-say": say,
    "data-say-label": (e, text) => put(e, "aria-label", text),
    "data-say-example": (e, text) => put(e, "placeholder", text),
    "data-light": (e, text) => { e.dataset.toPaper = text; },
    "data-dark": (e, text) => { e.dataset.toStage = text; },
  })) {
    for (const e of document.querySelectorAll(`[${attr}]`)) set(e, phrase(e.getAttribute(attr) ?? ""));
  }
  document.dispatchEvent(new Event("words"));
}

/** A text by its key, with its figures. @param {string} key @param {...any} figures */
export function phrase(key, ...figures) {
  let text = texts[key] ?? key;
  if (typeof text !== "string") text = text[new Intl.PluralRules(document.documentElement.lang).select(figures[text.by - 1])] ?? text.other;
  return text.replace(/%\[(\d+)\]./g, (_, n) => String(figures[n - 1] ?? ""));
}

/** Whether there is a text of a key. @param {string} key */
export const known = (key) => key in texts;
