// Lamps for bits, and the caution that stands wherever a program is tried out.

import { element } from "./elements.js";

const CAUTION =
  "This bench moves nothing. A controller that is put into run mode moves real outputs: before you do it, " +
  "see that nobody is in reach of the machine, and follow the site's own rules.";

export function named(operand) {
  return element("span", { class: "lk-named" }, element("strong", {}, operand.id), ` ${operand.text}`);
}

export function tryCaution() {
  return element("p", { class: "lk-try-caution" }, CAUTION);
}

// A lamp an operand; show(image) lights those that are on. `words` say what off and on look like.
export function lampsOf(operands, words = ["off", "on"]) {
  const made = operands.map((each) => {
    const state = element("span", { class: "lk-state" }, words[0]);
    const lamp = element("div", { class: "lk-lamp" }, element("span", { class: "lk-bulb", "aria-hidden": "true" }), named(each), state);
    return { id: each.id, state, lamp };
  });
  return {
    node: element("div", { class: "lk-lamps" }, ...made.map(({ lamp }) => lamp)),
    show(image) {
      for (const { id, lamp, state } of made) {
        lamp.classList.toggle("lk-lit", image[id] === true);
        state.textContent = words[image[id] ? 1 : 0];
      }
    },
  };
}
