// An exercise that cannot be shown, in its place: what is wrong with it, at which line.

import { element } from "./elements.js";
import { problemBox } from "./problem_box.js";

/** @param {{ model: any, el: HTMLElement }} at */
function render({ model, el }) {
  const { title, problems } = model.get("shown");
  el.append(
    element(
      "section",
      { class: "pv-card lk-exercise" },
      element("header", { class: "lk-header" }, element("h3", {}, title)),
      element("p", {}, "This exercise cannot be shown until this is mended. The others are shown as they are."),
      ...problems.map(problemBox),
    ),
  );
}

export default { render };
