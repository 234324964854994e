// The panel at the end: what is answered, and the button that makes the hand-in.

import { draftStore } from "./draft_store.js";
import { button, element } from "./elements.js";

const WAIT_MS = 6000;
const NOT_YET =
  "Not made yet: the workbook's engine does not answer: see the line at the top. Press again when it is back.";
const NEWER = "You saved more after your hand-in file was made. Make it once more: then that is in it too.";

// What is answered, from the model's `exercises`, `opens` and `deadline`.
function overview(model) {
  const lead = element("p");
  const list = element("ol", { class: "lk-list" });

  function line({ answered, title }) {
    const words = `${answered ? "✓" : "○"} ${title}${answered ? "" : " (no answer yet)"}`;
    return element("li", { class: answered ? "lk-done" : "lk-not-answered" }, words);
  }

  function show() {
    const exercises = model.get("exercises");
    const open = exercises.filter((item) => !item.answered).length;
    const [opens, deadline] = [model.get("opens"), model.get("deadline")];
    const state =
      open === 0
        ? "Every exercise has an answer on disk."
        : `${open} of ${exercises.length} exercises have no answer yet.`;
    lead.textContent =
      state +
      (opens ? ` This lab opens ${new Date(opens).toLocaleString()}.` : "") +
      (deadline ? ` Hand in by ${new Date(deadline).toLocaleString()}.` : "");
    list.replaceChildren(...exercises.map(line));
  }

  return { nodes: [lead, list], show };
}

// What is typed and not saved yet, in this window or in another one.
function unsaved(model) {
  const draftOf = ({ id }) => draftStore(`labkit:${model.get("workbook")}:${id}`).read();
  return model.get("exercises").filter(draftOf);
}

// Making the file; `root` carries how it went.
function making(root, model) {
  const status = element("p", { class: "lk-status", role: "status", "aria-live": "polite" });
  let token = "";
  let timer = null;
  let link = null;

  function warn(text) {
    status.textContent = text;
    status.classList.add("lk-warn");
  }

  function stuck() {
    root.dataset.state = "stuck";
    warn(NOT_YET);
  }

  function press() {
    const open = unsaved(model);
    if (open.length === 0 || root.dataset.state === "asked") return make();
    root.dataset.state = "asked";
    const titles = open.map(({ number, title }) => `${number}. ${title}`).join(", ");
    warn(`Typed, but not saved yet: ${titles}. Save there first. Or press once more to hand in without it.`);
  }

  function make() {
    token = String(Math.random());
    status.classList.remove("lk-warn");
    status.textContent = "Making your hand-in …";
    delete root.dataset.state;
    clearTimeout(timer);
    timer = setTimeout(stuck, WAIT_MS);
    try {
      model.send({ do: "hand in", token });
    } catch {
      /* the timer tells */
    }
  }

  function show() {
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
    status.replaceChildren(
      `Your hand-in is ${made.name}, in the folder ${made.folder}. Give this one file to your instructor. `,
      element("a", { href: link, download: made.name }, "Save a copy elsewhere"),
    );
  }

  function showNewer() {
    if (root.dataset.state === "made" && model.get("newer")) warn(NEWER);
  }

  function stop() {
    clearTimeout(timer);
    if (link) URL.revokeObjectURL(link);
  }

  return { status, press, show, showNewer, stop };
}

function render({ model, el }) {
  const root = element("section", { class: "lk-exercise lk-handin", "aria-label": "Hand in" });
  const answers = overview(model);
  const file = making(root, model);
  const press = button("Make my hand-in file", file.press, { class: "lk-button lk-main" });
  root.append(
    element("header", { class: "lk-header" }, element("h3", {}, "Hand in")),
    ...answers.nodes,
    element("div", { class: "lk-buttons" }, press),
    file.status,
  );
  el.replaceChildren(root);
  model.on("change:exercises", answers.show);
  model.on("change:made", file.show);
  model.on("change:newer", file.showNewer);
  answers.show();
  return () => {
    file.stop();
    model.off("change:exercises", answers.show);
    model.off("change:made", file.show);
    model.off("change:newer", file.showNewer);
  };
}

export default { render };
