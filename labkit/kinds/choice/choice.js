/** @import { Build } from "./frame.js" */

import { element, newToken } from "./elements.js";
import { exercise } from "./frame.js";

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const group = `lk-choice-${newToken()}`;
  const inputs = shown.ask.options.map((option) => {
    const input = element("input", { type: "radio", name: group, value: option.id });
    root.append(element("label", { class: "lk-option" }, input, element("span", {}, option.text)));
    input.addEventListener("change", () => {
      changed();
      settled();
    });
    return input;
  });
  root.setAttribute("role", "radiogroup");
  root.setAttribute("aria-label", "Options");
  root.addEventListener("keydown", (event) => event.stopPropagation());
  return {
    get: () => inputs.find((input) => input.checked)?.value ?? "",
    set(answer) {
      for (const input of inputs) input.checked = input.value === answer;
    },
  };
}

export default { render: exercise(build) };
