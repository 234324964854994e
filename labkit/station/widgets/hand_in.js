import { element } from "./elements.js";

const WAIT_MS = 6000;

function render({ model, el }) {
  const lead = element("p");
  const list = element("ol", { class: "lk-list" });
  const button = element("button", { type: "button", class: "lk-button lk-main" }, "Make my hand-in file");
  const status = element("p", { class: "lk-status", role: "status", "aria-live": "polite" });
  const root = element(
    "section",
    { class: "lk-exercise lk-handin", "aria-label": "Hand in" },
    element("header", { class: "lk-header" }, element("h3", {}, "Hand in")),
    lead,
    list,
    element("div", { class: "lk-buttons" }, button),
    status,
  );
  el.replaceChildren(root);
  let token = "";
  let timer = null;
  let link = null;

  function showExercises() {
    const exercises = model.get("exercises");
    const open = exercises.filter((item) => !item.answered).length;
    const deadline = model.get("deadline");
    lead.textContent =
      (open === 0 ? "Every exercise has an answer on disk." : `${open} of ${exercises.length} exercises have no answer yet.`) +
      (deadline ? ` Hand in by ${new Date(deadline).toLocaleString()}.` : "");
    list.replaceChildren(
      ...exercises.map((item) =>
        element(
          "li",
          { class: item.answered ? "lk-done" : "lk-not-answered" },
          `${item.answered ? "✓" : "○"} ${item.title}${item.answered ? "" : " (no answer yet)"}`,
        ),
      ),
    );
  }

  function warn(text) {
    status.textContent = text;
    status.classList.add("lk-warn");
  }

  function showMade() {
    const made = model.get("made");
    if (!token || made.token !== token) return;
    clearTimeout(timer);
    root.dataset.state = made.failed ? "failed" : "made";
    if (made.failed) {
      warn(`The hand-in was not made: ${made.failed}`);
      return;
    }
    status.classList.remove("lk-warn");
    if (link) URL.revokeObjectURL(link);
    link = URL.createObjectURL(new Blob([made.content], { type: "application/json" }));
    const anchor = element("a", { href: link, download: made.name }, "Save a copy elsewhere");
    status.replaceChildren(
      `Your hand-in is ${made.name}, in the folder ${made.folder}. Give this one file to your instructor. `,
      anchor,
    );
  }

  button.addEventListener("click", () => {
    token = String(Math.random());
    status.classList.remove("lk-warn");
    status.textContent = "Making your hand-in …";
    delete root.dataset.state;
    clearTimeout(timer);
    timer = setTimeout(
      () => warn("Not made yet: the workbook's engine does not answer. Choose Kernel → Restart Kernel, then press again."),
      WAIT_MS,
    );
    try {
      model.send({ do: "hand in", token });
    } catch {
      /* the timer tells */
    }
  });
  model.on("change:exercises", showExercises);
  model.on("change:made", showMade);
  showExercises();
  return () => {
    clearTimeout(timer);
    if (link) URL.revokeObjectURL(link);
    model.off("change:exercises", showExercises);
    model.off("change:made", showMade);
  };
}

export default { render };
