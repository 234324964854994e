/** @import { Build } from "./frame.js" */

import { element, newToken } from "./elements.js";
import { exercise } from "./frame.js";

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const note = element("p", { class: "lk-caption lk-spelling-note", id: `lk-spelling-${newToken()}` }, shown.view.spelling);
  const line = element("input", {
    type: "text",
    class: "lk-input",
    maxlength: shown.view.characters,
    autocomplete: "off",
    autocapitalize: "off",
    autocorrect: "off",
    // The browser's own red line would tell how a word is spelt.
    spellcheck: "false",
    "aria-describedby": note.id,
  });
  root.append(element("label", { class: "lk-label" }, "Your answer", line), note);
  line.addEventListener("input", changed);
  line.addEventListener("change", settled);
  line.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Enter") submit();
  });
  return {
    get: () => line.value,
    set: (answer) => {
      line.value = typeof answer === "string" ? answer : "";
    },
  };
}

export default { render: exercise(build) };
