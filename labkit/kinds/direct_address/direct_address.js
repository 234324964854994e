/** @import { Build } from "./frame.js" */

import { bitsSwitch, byteGrid } from "./byte_grid.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const { area, bytes, blocks } = shown.ask;
  const grid = byteGrid({ area, bytes, boundary: 1 });
  grid.draw(blocks);
  const input = element("input", {
    type: "text",
    class: "lk-input",
    placeholder: shown.view.form,
    autocomplete: "off",
    spellcheck: "false",
    maxlength: 40,
  });
  root.append(
    element(
      "div",
      { class: "lk-address-map" },
      element("p", { class: "lk-area-title" }, `The controller's ${area} area, ${bytes} bytes`),
      grid.node,
      bitsSwitch([grid]),
    ),
    element("label", { class: "lk-label" }, "The direct address", input),
  );
  input.addEventListener("input", changed);
  input.addEventListener("change", settled);
  root.addEventListener("keydown", (event) => {
    event.stopPropagation(); // letters are an answer here, not shortcuts of the notebook
    if (event.key === "Enter" && event.target === input) submit();
  });
  return {
    get: () => input.value,
    set: (answer) => {
      input.value = typeof answer === "string" ? answer : "";
    },
  };
}

export default { render: exercise(build) };
