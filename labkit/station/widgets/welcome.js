function render({ model, el }) {
  const answered = model.get("answered");
  const unreadable = model.get("unreadable");
  const box = document.createElement("div");
  box.className = "lk-welcome";
  const line = document.createElement("p");
  line.textContent =
    answered > 0
      ? `Welcome back, ${model.get("trainee")}. ${answered} of ${model.get("total")} answers are back from this folder.`
      : `Welcome, ${model.get("trainee")}. Each answer is saved in this folder as soon as you give it.`;
  box.append(line);
  if (unreadable > 0) {
    const warning = document.createElement("p");
    warning.className = "lk-warn";
    warning.textContent =
      `${unreadable} line(s) of the answer journal could not be read, as after a power cut. ` +
      "Look through your answers; everything else is there.";
    box.append(warning);
  }
  el.replaceChildren(box);
}

export default { render };
