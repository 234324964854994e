// What the trainer says at once to whoever sits here: that it is paused, and messages until they are put away.

import { button, element } from "./elements.js";

const SHOWN_MS = 8000;

/**
 * @typedef {{ number: string, at: string, by: string, text: string }} Message
 * @typedef {{ since: string, sentence: string }} Pause
 */

/** A time of today, or of the day that is named with it. @param {string} at @param {Date} [now] */
export function saidAt(at, now = new Date()) {
  const time = new Date(at);
  const day = time.toDateString() === now.toDateString() ? "" : `${time.toLocaleDateString([], { dateStyle: "medium" })}, `;
  return day + time.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
}

export class FromTrainer {
  constructor() {
    this.pause = element("div", { class: "pg-paused", hidden: true });
    this.list = element("ul", { class: "pg-messages" });
    // Spoken when there is something new in it, after what is being read; so it is there before that.
    this.node = element("section", { class: "pg-from-trainer", "aria-label": "From your instructor", "aria-live": "polite" }, this.pause, this.list);
    /** @type {Map<string, HTMLElement>} */
    this.shown = new Map();
    this.words = "";
    this.timer = 0;
    // What scrolls or stands below it keeps clear of it.
    const { style } = document.documentElement;
    new ResizeObserver(() => style.setProperty("--pg-over", `${this.node.offsetHeight}px`)).observe(this.node);
  }

  /** @param {{ paused?: Pause | null, messages?: Message[], clock?: { deadline?: string | null } | null }} now */
  holds({ paused, messages = [], clock }) {
    this.pauses(paused ?? null, Boolean(clock?.deadline));
    const there = new Set(messages.map(({ number }) => number));
    for (const [number, item] of this.shown) if (!there.has(number)) this.away(number, item);
    for (const message of messages) if (!this.shown.has(message.number)) this.add(message);
  }

  /** @param {Pause | null} paused @param {boolean} ends */
  pauses(paused, ends) {
    const words = paused && `${paused.sentence || "Your instructor paused this lab."}\n${ends}`;
    if ((words ?? "") === this.words) return; // it is not spoken again
    const before = this.words;
    this.words = words ?? "";
    clearTimeout(this.timer);
    if (!paused) {
      this.pause.replaceChildren(element("p", {}, element("b", {}, "It goes on.")));
      this.timer = setTimeout(() => (this.pause.hidden = true), before ? SHOWN_MS : 0);
      return;
    }
    const still = ends ? " Your time stands still." : "";
    this.pause.replaceChildren(
      element("p", {}, element("span", { class: "pg-bars", "aria-hidden": "true" }), element("b", {}, "Paused. "), paused.sentence || "Your instructor paused this lab."),
      element("p", { class: "pg-aside" }, `What you typed stays here, and can be saved once it goes on.${still}`),
    );
    this.pause.hidden = false;
  }

  /** @param {Message} message */
  add({ number, at, by, text }) {
    const said = element("p", { class: "pg-told", role: "alert" });
    const read = button("Read", () => this.read(number, read, said), { "aria-label": `Read: put this message from ${by} away` });
    const item = element(
      "li",
      { class: "pg-message" },
      element("div", {}, element("p", { class: "pg-aside" }, `Message from ${by}, ${saidAt(at)}`), element("p", {}, text), said),
      read,
    );
    this.shown.set(number, item);
    this.list.append(item);
  }

  /** @param {string} number @param {HTMLButtonElement} press @param {HTMLElement} said */
  async read(number, press, said) {
    if (press.ariaDisabled) return; // once; a button that is disabled would lose the focus
    press.ariaDisabled = "true";
    try {
      const answer = await fetch("read", { method: "POST", body: JSON.stringify({ message: number }) });
      if (!answer.ok) throw new Error();
      const item = this.shown.get(number);
      if (item) this.away(number, item);
    } catch {
      press.ariaDisabled = null;
      said.textContent = "Your instructor's machine did not hear that. Press again in a moment.";
    }
  }

  /** @param {string} number @param {HTMLElement} item */
  away(number, item) {
    const within = item.contains(document.activeElement);
    this.shown.delete(number);
    item.remove();
    if (!within) return;
    // Who goes on by keys is not sent to the top of the page.
    const next = this.list.querySelector("button") ?? document.querySelector("main");
    if (next instanceof HTMLElement) next.focus({ preventScroll: true });
  }
}
