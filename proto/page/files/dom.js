// @ts-check
/** Small helpers to build and update elements. */
import { phrase, known } from "./words.js";

const SVG = "http://www.w3.org/2000/svg";

/**
 * Makes an element. Attributes that are null or false are left out; "on…"
 * attributes are listeners.
 * @param {string} tag
 * @param {Record<string, any>} [attrs]
 * @param {...(Node|string|null)} kids
 * @returns {any}
 */
export function el(tag, attrs = {}, ...kids) {
  return fill(document.createElement(tag), attrs, kids);
}

/** Makes an SVG element, as el does. @param {string} tag @param {Record<string, any>} [attrs] @param {...(Node|string|null)} kids @returns {any} */
export function svg(tag, attrs = {}, ...kids) {
  return fill(document.createElementNS(SVG, tag), attrs, kids);
}

/** @param {any} node @param {Record<string, any>} attrs @param {(Node|string|null)[]} kids */
function fill(node, attrs, kids) {
  for (const [name, value] of Object.entries(attrs)) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else put(node, name, value);
  }
  node.append(...kids.filter((k) => k !== null && k !== undefined));
  return node;
}

/** Sets an attribute only when it differs. @param {Element} node @param {string} name @param {any} value */
export function put(node, name, value) {
  if (value === null || value === undefined || value === false) {
    if (node.hasAttribute(name)) node.removeAttribute(name);
    return;
  }
  const text = value === true ? "" : String(value);
  if (node.getAttribute(name) !== text) node.setAttribute(name, text);
}

/** Sets the text only when it differs, so that nothing is laid out or read aloud twice. @param {Element} node @param {string|undefined} text */
export function say(node, text) {
  const t = text ?? "";
  if (node.textContent !== t) node.textContent = t;
}

/** @param {string} id @returns {any} */
export const byID = (id) => document.getElementById(id);

/**
 * Asks the server. Throws an Error with the server's own sentence.
 * @param {string} url
 * @param {{method?: string, json?: any, body?: any}} [options]
 */
export async function ask(url, options = {}) {
  const init = { method: options.method ?? (options.json || options.body ? "POST" : "GET"), headers: {}, body: options.body };
  if (options.json) {
    init.headers = { "Content-Type": "application/json" };
    init.body = JSON.stringify(options.json);
  }
  let answer;
  try {
    answer = await fetch(url, init);
  } catch {
    throw new Error(or("page.silent", "The hub does not answer. Is its laptop awake and on this network?"));
  }
  const data = await answer.json().catch(() => ({}));
  if (!answer.ok) {
    const p = data.error ?? { message: or("page.failed", "That did not work.") };
    throw new Error([p.message, p.hint].filter(Boolean).join(" "));
  }
  return data;
}

/** A text, or its English where the page has no texts (yet). @param {string} key @param {string} english */
const or = (key, english) => (known(key) ? phrase(key) : english);

/** What this browser was told to keep, or null; private windows keep nothing. @param {string} key @returns {string|null} */
export function recall(key) {
  try { return localStorage.getItem(key); } catch { return null; }
}

/** @param {string} key @param {string} value */
export function keep(key, value) {
  try { localStorage.setItem(key, value); } catch { /* as above */ }
}
