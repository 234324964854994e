// Handing in, at the last place: what is still open, and the receipt with its code.

import { button, element } from "./elements.js";

const LONG_MS = 60_000; // many may hand in at once

/**
 * @typedef {{ code: string, at: string }} Receipt
 * @typedef {{ exercise: string, title: string, number: number }} Open
 */

/** @param {string} at */
function moment(at) {
  const time = new Date(at);
  return Number.isNaN(time.getTime()) ? at : time.toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
}

export class HandingIn {
  constructor() {
    this.together = "";
    this.shut = "";
    this.lead = element("p");
    this.both = element("p", { class: "pg-told" });
    this.list = element("ul", { class: "pg-open-ones" });
    this.press = button("Hand in", () => this.make(), { class: "pg-button pg-main" });
    this.status = element("p", { class: "pg-told", role: "status" });
    this.receipt = element("div", { class: "pg-receipt", hidden: true, tabindex: -1 });
    const heading = element("h2", { id: "pg-hand-in" }, "Hand in");
    this.node = element(
      "section",
      { class: "pg-handing-in", "aria-labelledby": heading.id },
      ...[heading, this.both, this.lead, this.list, this.press, this.status, this.receipt],
    );
  }

  /** @param {{ shut?: string | null, receipt?: Receipt | null, results?: boolean, together?: string }} now */
  holds({ shut, receipt, results, together }) {
    this.together = together ?? "";
    this.both.textContent = together ? `Together with ${together}: what you hand in counts for both of you.` : "";
    // Once all is marked, what was left open is told by its marks.
    this.lead.hidden = this.list.hidden = Boolean(shut && results);
    if (receipt) this.show(receipt);
    this.press.hidden = Boolean(shut);
    if (shut && !receipt) this.status.textContent = shut;
    else if (this.shut && this.status.textContent === this.shut) this.status.textContent = "";
    this.shut = shut ?? "";
  }

  /** @param {Open[]} open @param {Open[]} unsaved */
  lists(open, unsaved) {
    const parts = [];
    if (unsaved.length) parts.push(`${unsaved.length} answered but not saved yet: go there and save first.`);
    parts.push(open.length ? `${open.length} still open:` : "Every exercise has a saved answer.");
    this.lead.textContent = parts.join(" ");
    const shown = [...unsaved, ...open.filter((each) => !unsaved.some((other) => other.exercise === each.exercise))];
    this.list.replaceChildren(
      ...shown.map(({ exercise, number, title }) =>
        element("li", {}, element("a", { href: `#${exercise}` }, `${number}. ${title}`)),
      ),
    );
    this.press.textContent = open.length ? "Hand in as it is" : "Hand in";
  }

  async make() {
    this.press.disabled = true;
    this.status.textContent = "Handing in …";
    try {
      const answer = await fetch("hand-in", { method: "POST", signal: AbortSignal.timeout(LONG_MS) });
      if (answer.ok) this.show(await answer.json());
      else this.status.textContent = (await answer.text()) || "It was not taken. Tell your instructor.";
    } catch {
      this.status.textContent = "Not handed in: your instructor's machine does not answer. Press again in a moment.";
    }
    this.press.disabled = false;
  }

  /** @param {Receipt} receipt */
  show({ code, at }) {
    const together = this.together ? `, together with ${this.together}` : "";
    this.status.textContent = `Handed in ${moment(at)}${together}.`;
    this.receipt.replaceChildren(
      element("p", {}, "Your receipt"),
      element("p", { class: "pg-code" }, code),
      element("p", {}, "Write this code down. It says which answers you handed in."),
    );
    this.receipt.hidden = false;
  }
}
