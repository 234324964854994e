// The line behind a program: what moves on it, and how it is; Python plays its bus.

import { element } from "./elements.js";
import { lampsOf } from "./ladder_lamps.js";

const NONE = { nodes: [], condition: () => 0, show() {} };

function chooser(conditions, chosen) {
  const options = conditions.map((text, at) => element("option", { value: String(at) }, text));
  const made = element("select", { class: "lk-input lk-select" }, ...options);
  made.addEventListener("change", chosen);
  return made;
}

// { nodes, condition(), show(moved) }; chosen() is called when the line is to be another.
export function lineOf(line, chosen) {
  if (!line) return NONE;
  const lamps = lampsOf(line.things.map((id) => ({ id, text: "" })), ["still", "moves"]);
  const choice = chooser(line.conditions, chosen);
  const head = element("p", { class: "lk-line-head" }, "What moves on the line");
  const pick = element("label", { class: "lk-switch lk-line-choice" }, "The line is", choice);
  const node = element("div", { class: "lk-line-of", role: "group", "aria-label": "The line" }, head, lamps.node);
  if (line.conditions.length > 1) node.append(pick);
  return {
    nodes: [node],
    condition: () => Number(choice.value),
    show: (moved) => lamps.show(moved),
  };
}
