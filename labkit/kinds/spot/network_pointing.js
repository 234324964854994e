// The drawing of a network to point into: each part is a button, a line below says what is pointed at.

import { DrawnPlaces } from "./drawn_places.js";
import { button, element } from "./elements.js";

/** @typedef {{ id: string, words: string }} Part */
/** @typedef {{ points: number, parts: Part[], drawings: any[] }} NetworkAsk */

export class NetworkPointing {
  /** @param {NetworkAsk} ask @param {() => void} altered - tells that the answer is another */
  constructor(ask, altered) {
    this.ask = ask;
    this.altered = altered;
    /** @type {string[]} */
    this.items = [];
    const said = ask.parts.map(({ id, words }) => ({ id, said: words }));
    this.places = new DrawnPlaces(ask.drawings, said, (id) => this.toggle(id));
    this.list = element("ol", { class: "lk-spot-list", "aria-label": "What you point at" });
    this.told = element("p", { class: "lk-spot-told", role: "status", "aria-live": "polite" });
    this.show();
  }

  show() {
    this.places.mark(new Set(this.items));
    for (const { part, node } of this.places.places) node.setAttribute("aria-pressed", String(this.items.includes(part)));
    this.list.replaceChildren(...this.items.map((id) => this.row(id)));
  }

  /** @param {string} id */
  words(id) {
    return this.ask.parts.find((part) => part.id === id)?.words ?? "";
  }

  /** @param {string} id */
  row(id) {
    const away = button("Take away", () => this.takeByList(id), { "aria-label": `Take away: ${this.words(id)}` });
    return element("li", {}, element("span", {}, this.words(id)), away);
  }

  /** @param {string} id */
  takeByList(id) {
    this.toggle(id);
    this.places.focus(id);
  }

  /** @param {string} id */
  toggle(id) {
    const { points } = this.ask;
    if (this.items.includes(id)) {
      const left = this.items.filter((item) => item !== id);
      return this.become(left, `${this.words(id)}: taken away.`);
    }
    const before = points === 1 ? [] : this.items;
    if (before.length < points) return this.become([...before, id], `${this.words(id)}: pointed at.`);
    this.told.textContent = `All ${points} points are set: take one away first.`;
    return undefined;
  }

  /** @param {string[]} items @param {string} words */
  become(items, words) {
    this.items = items;
    this.show();
    this.told.textContent = words;
    this.altered();
  }

  /** @param {any} answer - a draft may be anything */
  set(answer) {
    const known = Array.isArray(answer) ? answer.filter((id) => this.ask.parts.some((part) => part.id === id)) : [];
    this.items = known.slice(0, this.ask.points);
    this.show();
  }

  /** All that stands in the exercise. */
  parts() {
    const { points } = this.ask;
    const many = points === 1 ? "1 place" : `up to ${points} places`;
    const help = `Point at ${many} in the drawing: click or touch it, or go from part to part with the Tab key and press Enter.`;
    const group = element("div", { role: "group", "aria-label": "Drawing of the network, to point into" }, ...this.places.stages);
    return [element("p", { class: "lk-caption" }, help), group, this.list, this.told];
  }
}
