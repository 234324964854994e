/** @import { Build } from "./frame.js" */

import { cautionBox } from "./caution.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";

function stepOf(number, points, ticked) {
  const boxes = points.map(({ id, text }) => {
    const input = element("input", { type: "checkbox", value: id });
    input.addEventListener("change", ticked);
    return { id, input, label: element("label", { class: "lk-test-tick" }, input, text) };
  });
  const node = element(
    "fieldset",
    { class: "lk-test-step" },
    element("legend", {}, `Step ${number}`),
    ...boxes.map(({ label }) => label),
  );
  return {
    node,
    get: () => boxes.filter(({ input }) => input.checked).map(({ id }) => id),
    set(on) {
      for (const { id, input } of boxes) input.checked = Array.isArray(on) && on.includes(id);
    },
  };
}

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const { points, steps } = shown.ask;
  const { caution, rules, caption } = shown.view;
  const ticked = () => {
    changed();
    settled();
  };
  const made = Array.from({ length: steps }, (_, at) => stepOf(at + 1, points, ticked));
  root.append(
    cautionBox(caution),
    element("ul", { class: "lk-test-rules", "aria-label": "What the machine asks" }, ...rules.map((rule) => element("li", {}, rule))),
    element("p", { class: "lk-caption" }, caption),
    element("div", { class: "lk-test-steps" }, ...made.map(({ node }) => node)),
  );
  root.addEventListener("keydown", (event) => event.stopPropagation());
  return {
    get() {
      const plan = made.map((step) => step.get());
      return plan.slice(0, plan.findLastIndex((step) => step.length) + 1);
    },
    set(answer) {
      for (const [at, step] of made.entries()) step.set(Array.isArray(answer) ? answer[at] : []);
    },
  };
}

export default { render: exercise(build) };
