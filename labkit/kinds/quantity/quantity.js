/** @import { Build } from "./frame.js" */

import { element } from "./elements.js";
import { exercise } from "./frame.js";

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const input = element("input", {
    type: "text",
    class: "lk-input",
    placeholder: shown.view.form,
    autocomplete: "off",
    spellcheck: "false",
    maxlength: 200,
  });
  root.append(element("label", { class: "lk-label" }, "Your answer, with its unit", input));
  input.addEventListener("input", changed);
  input.addEventListener("change", settled);
  input.addEventListener("keydown", (event) => {
    event.stopPropagation(); // letters are an answer here, not shortcuts of the notebook
    if (event.key === "Enter") submit();
  });
  return {
    get: () => input.value,
    set: (answer) => {
      input.value = typeof answer === "string" ? answer : "";
    },
  };
}

export default { render: exercise(build) };
