// In the head of a trainee's page: ask the instructor to come, with a line of text or without.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";

const LONGEST = 120;

class RaisedHand {
  constructor() {
    this.words = "";
    this.isUp = false;
    this.press = button("Ask your instructor", () => this.opens(), { class: "pg-button hd-press" });
    this.line = element("input", { class: "hd-line", id: "hd-line", maxlength: LONGEST, autocomplete: "off" });
    this.form = element(
      "form",
      { class: "hd-form", hidden: true },
      element("label", { for: this.line.id }, "What is it about? You may leave this empty."),
      this.line,
      element("button", { type: "submit", class: "pg-button pg-main hd-press" }, "Raise your hand"),
      button("Not now", () => this.closes(), { class: "pg-button hd-press" }),
    );
    this.told = element("span");
    this.back = button("Take it back", () => this.says({ up: false }), { class: "pg-button hd-press" });
    this.up = element("div", { class: "hd-up", hidden: true }, this.told, this.back);
    this.said = element("p", { class: "hd-said", role: "status" });
    this.node = element("div", { class: "hd-place" }, this.press, this.form, this.up, this.said);
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.says({ up: true, words: this.line.value });
    });
    this.form.addEventListener("keydown", ({ key }) => key === "Escape" && this.closes());
  }

  opens() {
    this.said.textContent = "";
    this.press.hidden = true;
    this.form.hidden = false;
    this.line.focus();
  }

  closes() {
    this.form.hidden = true;
    this.press.hidden = false;
    this.press.focus();
  }

  /** @param {{ up: boolean, words?: string }} what */
  async says(what) {
    this.said.textContent = "";
    try {
      const now = await ask("hand", what);
      this.shows(now.hand, true);
    } catch (error) {
      this.said.textContent = error.message;
    }
  }

  /** What the room says of it by now. @param {{ hand?: { words: string } | null }} now */
  holds({ hand }) {
    const seenTo = this.isUp && !hand;
    this.shows(hand ?? null, false);
    if (seenTo) this.said.textContent = "Your hand was taken down.";
  }

  /** @param {{ words: string } | null} hand @param {boolean} byThis - the focus goes along */
  shows(hand, byThis) {
    const changes = this.isUp !== Boolean(hand);
    this.isUp = Boolean(hand);
    this.told.textContent = hand?.words ? `Your hand is up: “${hand.words}”` : "Your hand is up.";
    this.up.hidden = !hand;
    if (!changes && !byThis) return; // whoever is typing goes on
    this.form.hidden = true;
    this.press.hidden = this.isUp;
    if (hand) this.line.value = "";
    if (byThis) (hand ? this.back : this.press).focus();
  }
}

export function begin() {
  document.head.append(element("link", { rel: "stylesheet", href: "/own/raised_hand.css" }));
  return new RaisedHand();
}
