import { element } from "./elements.js";

function render({ model, el }) {
  const answered = model.get("answered");
  const unreadable = model.get("unreadable");
  const box = element(
    "div",
    { class: "lk-welcome" },
    element(
      "p",
      {},
      answered > 0
        ? `Welcome back, ${model.get("trainee")}. ${answered} of ${model.get("total")} answers are back from this folder.`
        : `Welcome, ${model.get("trainee")}. Each answer is saved in this folder as soon as you give it.`,
    ),
  );
  if (unreadable > 0)
    box.append(
      element(
        "p",
        { class: "lk-warn" },
        `${unreadable} line(s) of the answer journal could not be read, as after a power cut. ` +
          "Look through your answers; everything else is there.",
      ),
    );
  el.replaceChildren(box);
}

export default { render };
