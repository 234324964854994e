// The way through a lab: every exercise with its state, the next open one, and handing in as the last place.

import { button, element } from "./elements.js";
import { STATES, stateOf } from "./exercise_state.js";
import { earnedShort, earnedWords } from "./own_results.js";

export const LAST = "_hand-in";

/** @typedef {{ exercise: string, part: string, title: string }} Stop */

/** @param {string} name @param {string} number @param {string} title */
function item(name, number, title) {
  const link = element(
    "a",
    { href: `#${name}` },
    element("span", { class: "pg-number", "aria-hidden": "true" }, number),
    element("span", { class: "pg-title" }, title),
    element("span", { class: "pg-state" }),
  );
  return element("li", { "data-place": name }, link);
}

/** @param {import("./own_results.js").Mark} mark */
function marked(mark) {
  return [
    element("span", { class: "pg-marks", "aria-hidden": "true" }, earnedShort(mark)),
    element("span", { class: "pg-spoken" }, `, ${earnedWords(mark)}`),
  ];
}

export class Way {
  /** @param {Stop[]} stops @param {(name: string) => void} go @param {boolean} ofAClass - it has other labs */
  constructor(stops, go, ofAClass) {
    this.stops = stops;
    this.list = element("ol", { class: "pg-list" });
    /** @type {Map<string, HTMLElement>} */
    this.items = new Map();
    for (const [index, { exercise, part, title }] of stops.entries()) {
      if (part) this.list.append(element("li", { class: "pg-part" }, part));
      this.add(exercise, item(exercise, String(index + 1), title));
    }
    this.last = "Hand in";
    this.add(LAST, item(LAST, "", this.last));
    this.summary = element("summary", {});
    this.next = button("", () => go(this.nextOpen ?? LAST), { class: "pg-button pg-next" });
    this.fold = element("details", { class: "pg-fold" }, this.summary, this.next, this.list);
    if (ofAClass) this.fold.append(element("p", { class: "pg-labs" }, element("a", { href: "/" }, "All labs")));
    this.list.addEventListener("click", () => this.foldAway());
    this.node = element("nav", { class: "pg-way", "aria-label": "Exercises" }, this.fold);
    this.narrow = matchMedia("(max-width: 1099px)");
    this.narrow.addEventListener("change", () => this.foldAway());
    this.foldAway();
  }

  add(name, node) {
    this.items.set(name, node);
    this.list.append(node);
  }

  foldAway() {
    this.fold.open = !this.narrow.matches;
  }

  /** @param {string} name */
  isAt(name) {
    this.at = name;
    for (const [each, node] of this.items) {
      if (each === name) node.firstElementChild?.setAttribute("aria-current", "step");
      else node.firstElementChild?.removeAttribute("aria-current");
    }
    this.foldAway();
    this.tell();
  }

  /** @param {(name: string) => { saved: any, draft: boolean, mark: import("./own_results.js").Mark | null }} of */
  show(of) {
    for (const { exercise } of this.stops) {
      const { saved, draft, mark } = of(exercise);
      const state = stateOf(saved, mark);
      const node = /** @type {HTMLElement} */ (this.items.get(exercise));
      node.dataset.state = state;
      node.toggleAttribute("data-draft", draft);
      const { sign, words } = STATES[state];
      node.querySelector(".pg-state")?.replaceChildren(
        element("span", { "aria-hidden": "true", title: words }, sign),
        element("span", { class: "pg-spoken" }, `, ${words}`),
        ...(mark ? marked(mark) : []),
        ...(draft ? [element("span", { class: "pg-unsaved" }, "not saved")] : []),
      );
    }
    const open = this.stops.filter(({ exercise }) => !of(exercise).saved.answered && !of(exercise).mark);
    this.open = open;
    this.tell();
  }

  /** What the last place is called by now. @param {string} words */
  callsLast(words) {
    this.last = words;
    this.items.get(LAST)?.querySelector(".pg-title")?.replaceChildren(words);
    this.tell();
  }

  // After this one, or else from the beginning.
  get nextOpen() {
    const open = this.open ?? [];
    const here = this.stops.findIndex(({ exercise }) => exercise === this.at);
    const later = open.find(({ exercise }) => this.stops.findIndex((each) => each.exercise === exercise) > here);
    const other = open.find(({ exercise }) => exercise !== this.at);
    return (later ?? other)?.exercise;
  }

  tell() {
    const here = this.stops.findIndex(({ exercise }) => exercise === this.at);
    const at = here < 0 ? this.last : `Exercise ${here + 1} of ${this.stops.length}`;
    this.summary.replaceChildren(at, element("span", { class: "pg-show-all", "aria-hidden": "true" }, "☰"));
    const next = this.nextOpen;
    this.next.hidden = !next;
    this.next.textContent = "Next open one →";
  }
}
