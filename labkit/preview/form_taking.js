// An exercise of another lab is looked for by words, and chosen: what comes with it is told before.

import { button, element } from "./elements.js";

/** @typedef {{ line: string, title: string, kind: string, marks: string, where: string, task: string, needs: string[], fits: boolean }} Found */

const MOST_NEEDS = 12;
const OTHER_FAMILY = "It cannot be taken: it is about another kind of network than this lab.";

/** @param {string[]} needs */
function needsOf(needs) {
  const more = needs.length - MOST_NEEDS;
  const shown = needs.slice(0, MOST_NEEDS).join(", ");
  return `With it comes: ${shown || "nothing more"}${more > 0 ? ` and ${more} more` : ""}.`;
}

export class TakingPanel {
  /** @param {{ ask: (path: string) => Promise<any>, chosen: (line: string) => void, close: () => void }} host */
  constructor(host) {
    this.host = host;
    this.sought = element("input", { class: "pf-input", id: "pf-sought", type: "search", autocomplete: "off" });
    this.told = element("p", { class: "pf-told", role: "status" });
    this.found = element("ul", { class: "pf-kinds" });
    const form = element(
      "form",
      { class: "pf-field", role: "search" },
      element("label", { class: "pf-name", for: "pf-sought" }, "Words of it"),
      this.sought,
      element("span", { class: "pf-help" }, "Of its title, question, kind, section or lab; all of them must be there."),
      element("div", { class: "pf-presses" }, element("button", { class: "pf-button pf-main", type: "submit" }, "Find")),
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.finds();
    });
    this.node = element(
      "div",
      {},
      element("div", { class: "pf-head" }, element("h2", {}, "Take an exercise from another lab"), button("Close", host.close, { class: "pf-button" })),
      form,
      this.told,
      this.found,
    );
  }

  async finds() {
    this.told.textContent = "Looking through the labs…";
    this.found.replaceChildren();
    const answer = await this.host.ask(`form/take?find=${encodeURIComponent(this.sought.value)}`);
    this.told.textContent = answer.told ? answer.told.join(" ") : this.saidOf(answer);
    this.found.replaceChildren(...(answer.found ?? []).map((each) => this.row(each)));
  }

  /** @param {any} answer */
  saidOf({ found, more, said }) {
    if (said) return said;
    if (!found.length) return "Type a word first.";
    const count = found.length === 1 ? "1 exercise." : `${found.length} exercises.`;
    return more ? `${count} ${more} more: add a word to see fewer.` : count;
  }

  /** @param {Found} found */
  row({ line, title, kind, marks, where, task, needs, fits }) {
    const what = `${kind}, ${marks} ${marks === "1" ? "mark" : "marks"}; ${where}`;
    const words = element("span", {}, element("b", {}, title), ` (${what})`, element("br"), task, element("br"), element("span", { class: "pf-help" }, fits ? needsOf(needs) : OTHER_FAMILY));
    return element("li", {}, button(words, () => this.host.chosen(line), { class: "pf-choice", "data-from": line, disabled: !fits }));
  }
}
