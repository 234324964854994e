// At the end: what is right, what needs another look; each exercise one press away.

import { button, element } from "./elements.js";

/**
 * How an exercise went: from its last answer, or from its mark once results are released.
 * @typedef {object} Went
 * @property {string} exercise
 * @property {number} number
 * @property {string} title
 * @property {keyof typeof import("./exercise_state.js").STATES} state
 * @property {string} words - tries and marks
 * @property {(() => void) | null} oneMore - asks for the same with other numbers, where there is such
 */

const AGAIN = "Needs another look";
const GROUPS = [
  { heading: AGAIN, states: ["wrong", "missed", "partly", "unreadable", "blank"] },
  { heading: "Waits for your instructor", states: ["awaits"] },
  { heading: "Right", states: ["right"] },
  { heading: "Not counted", states: ["voided"] },
];

export class SoFar {
  constructor() {
    this.node = element("section", { class: "pg-so-far", "aria-label": "How it went", hidden: true });
    this.shown = "";
  }

  /** @param {Went[]} all */
  shows(all) {
    const shown = JSON.stringify(all.map((each) => ({ ...each, oneMore: Boolean(each.oneMore) })));
    if (shown === this.shown) return; // or who is there with the keys would lose their place
    this.shown = shown;
    const groups = GROUPS.map(({ heading, states }) => {
      const found = all.filter(({ state }) => states.includes(state));
      return found.length ? [element("h3", {}, `${heading} (${found.length})`), list(found, heading === AGAIN)] : [];
    });
    this.node.replaceChildren(...groups.flat());
    this.node.hidden = !groups.flat().length;
  }
}

/** @param {Went[]} found @param {boolean} again */
function list(found, again) {
  return element(
    "ul",
    { class: "pg-went" },
    ...found.map(({ exercise, number, title, state, words, oneMore }) => {
      const line = element("li", { "data-went": exercise, "data-state": state });
      line.append(element("a", { href: `#${exercise}` }, `${number}. ${title}`));
      if (words) line.append(" ", element("span", { class: "pg-how" }, words));
      if (again && oneMore) line.append(" ", button("One more like this", oneMore, { class: "pg-button pg-small" }));
      return line;
    }),
  );
}
