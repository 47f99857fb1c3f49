// @ts-check
import { el } from "./dom.js";
import { phrase } from "./words.js";

/**
 * Offers the chords that the players could be holding, after listening.
 * @param {HTMLElement} box
 * @param {any} b the board
 * @param {(c: any) => void} command
 */
export function showHeard(box, b, command) {
  const heard = b.round?.heard_chords ?? [];
  box.hidden = heard.length === 0;
  const key = JSON.stringify([b.round?.id, heard]);
  if (box.dataset.key === key) return;
  box.dataset.key = key;
  box.replaceChildren(...heard.map((h) =>
    el("button", { type: "button", "data-chord": h.name, onclick: () => command({ do: "choose", name: h.name }) }, phrase("row.heard", h.label))));
}
