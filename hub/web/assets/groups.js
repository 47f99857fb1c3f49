// @ts-check
import { el, put, say, byID } from "./dom.js";
import { phrase } from "./words.js";

/**
 * The section by groups of instruments: one line for each, which opens the
 * group's chairs. Shared by row and wall.
 */
export class Groups {
  /** @param {() => void} onChange is called when other chairs are to be seen */
  constructor(onChange) {
    this.on = false;
    /** @type {string|null} the group that is open */
    this.open = null;
    this.onChange = onChange;
    this.button = byID("by-groups");
    this.button.addEventListener("click", () => this.toggle());
  }

  /** Between all chairs, the groups, and back. */
  toggle() {
    this.on = !this.on || this.open !== null;
    this.open = null;
    this.show(this.board);
    this.onChange();
  }

  /** @param {any} b the board @returns {Set<number>|null} the chairs to be seen, null for all */
  show(b) {
    this.board = b;
    const groups = b?.groups ?? [];
    const list = this.on && this.open === null;
    byID("groups").hidden = !list;
    byID("seats").hidden = list;
    document.body.toggleAttribute("data-groups", list);
    put(this.button, "aria-pressed", this.on ? "true" : "false");
    say(this.button.firstElementChild, this.open === null ? phrase("row.by-groups") : phrase("row.group-only", this.open));
    if (list) this.draw(groups);
    if (!this.on || this.open === null) return null;
    const group = groups.find((g) => g.title === this.open);
    return new Set(group?.chairs ?? []);
  }

  /** @param {any[]} groups */
  draw(groups) {
    const key = JSON.stringify(groups);
    if (key === this.key || byID("groups").querySelector(":active")) return; // a press is under way: with the next row
    this.key = key;
    const held = /** @type {HTMLElement|null} */ (document.activeElement)?.dataset?.group;
    byID("groups").replaceChildren(...groups.map((g) => el("li", {},
      el("button", { type: "button", class: "group", "data-group": g.title, onclick: () => { this.open = g.title; this.show(this.board); this.onChange(); } },
        el("span", { class: "label" }, g.title),
        el("span", { class: "poster count" }, phrase("row.set-of", g.set, g.present)),
        el("span", { class: "stands" }, g.words)))));
    if (held) /** @type {HTMLElement|null} */ (document.querySelector(`[data-group="${held}"]`))?.focus();
  }
}
