/** @import { Build } from "./frame.js" */

import { element } from "./elements.js";
import { exercise } from "./frame.js";

const NONE = "none";

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const boxes = shown.ask.boxes.map((box) => boxFor(box.id, box.text));
  const none = shown.ask.none ? boxFor(NONE, "None of them") : null;
  const all = none ? [...boxes, none] : boxes;

  function boxFor(id, text) {
    const input = element("input", { type: "checkbox", value: id });
    root.append(element("label", { class: "lk-option" }, input, element("span", {}, text)));
    input.addEventListener("change", () => {
      // Who ticks one takes back that none is right, and the other way round.
      if (input.checked) for (const other of all) if ((other === none) !== (input === none)) other.checked = false;
      changed();
      settled();
    });
    return input;
  }

  root.prepend(element("p", { class: "lk-caption" }, "Tick every one that answers the question."));
  root.setAttribute("role", "group");
  root.setAttribute("aria-label", "Boxes to tick");
  root.addEventListener("keydown", (event) => event.stopPropagation());
  return {
    get: () => all.filter((input) => input.checked).map((input) => input.value),
    set(answer) {
      for (const input of all) input.checked = Array.isArray(answer) && answer.includes(input.value);
    },
  };
}

export default { render: exercise(build) };
