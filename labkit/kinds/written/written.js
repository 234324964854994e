/** @import { Build } from "./frame.js" */

import { element, newToken } from "./elements.js";
import { exercise } from "./frame.js";

// The same white space as in labkit/kinds/written/check.py: both must count alike.
const WHITE_SPACE = /[\t\n\v\f\r \u0085\u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+/;

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const { least, most } = shown.ask;
  const countId = `lk-words-${newToken()}`;
  const area = element("textarea", {
    class: "lk-input lk-written",
    rows: Math.min(14, Math.max(4, Math.ceil(most / 14))),
    maxlength: shown.view.characters,
    "aria-describedby": countId,
  });
  const count = element("p", { class: "lk-words", id: countId });
  root.append(element("label", { class: "lk-label" }, "Your answer", area), count);

  function showCount() {
    const words = area.value.split(WHITE_SPACE).filter(Boolean).length;
    const short = words > 0 && words < least;
    const long = words > most;
    const left = short ? `${least - words} more, at least` : long ? `${words - most} too many` : "";
    const asked = `${least} to ${most} words are asked for`;
    count.textContent = `${words} ${words === 1 ? "word" : "words"} · ${asked}${left ? ` · ${left}` : ""}`;
    count.classList.toggle("lk-outside", short || long);
  }

  area.addEventListener("input", () => {
    showCount();
    changed();
  });
  area.addEventListener("change", settled);
  area.addEventListener("keydown", (event) => event.stopPropagation());
  showCount();
  return {
    get: () => area.value,
    set: (answer) => {
      area.value = typeof answer === "string" ? answer : "";
      showCount();
    },
  };
}

export default { render: exercise(build) };
