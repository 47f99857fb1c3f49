// @ts-check
import { el } from "./dom.js";

/**
 * Offers what can be done about a section that is off as one.
 * @param {HTMLElement} list
 * @param {any} b the board
 * @param {(c: any) => void} command
 */
export function showChoices(list, b, command) {
  const choices = b.round?.choices ?? [];
  list.hidden = choices.length === 0;
  const key = JSON.stringify([b.round?.id, choices]);
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  const held = /** @type {HTMLElement|null} */ (document.activeElement)?.dataset.do;
  list.replaceChildren(...choices.map((c) => el("li", {},
    el("button", { type: "button", "data-do": c.do, "aria-describedby": `deed-${c.do}`, onclick: () => command({ do: c.do }) }, c.label),
    el("span", { id: `deed-${c.do}` }, c.words))));
  if (held) /** @type {HTMLElement|null} */ (list.querySelector(`[data-do="${held}"]`))?.focus();
}
