// Putting marks right for everybody: an exercise taken out, a corrected text, newer rules. What would
// change is shown first; what is done is what was shown.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPath, problem, WorkShown } from "./house.js";

const WORDS = {
  void: (what) => `Take ${what} out of everybody's marks`,
  restore: (what) => `Bring ${what} back into everybody's marks`,
  text: (what) => `Mark ${what} by the corrected text`,
  rules: () => "Mark all labs by this labkit's rules",
};
const DONE = { "taken out": "taken out of the marks", "brought back": "brought back into the marks", "marked anew": "marked anew" };

function list(lines) {
  return element("ul", { class: "ms-lines" }, ...lines.map((line) => element("li", {}, line)));
}

function crosser({ who, why }) {
  return element("li", {}, who, ...why.map((line) => element("span", { class: "rm-quiet ms-beside" }, line)));
}

function crossing(told) {
  if (told.pass_mark === null) return [];
  const does = told.done ? (told.crossing.length === 1 ? "crosses" : "cross") : "would cross";
  const whom = told.crossing.length === 1 ? "1 person" : `${told.crossing.length} people`;
  const said = told.crossing.length ? `${whom} ${does} the pass mark of ${told.pass_mark} %:` : `Nobody ${told.done ? "crosses" : "would cross"} the pass mark of ${told.pass_mark} %.`;
  return [element("p", {}, element("b", {}, said)), ...(told.crossing.length ? [element("ul", { class: "ms-lines" }, ...told.crossing.map(crosser))] : [])];
}

function results(told) {
  const does = told.done ? "changed" : "would change";
  const summary = `${told.results} ${told.results === 1 ? "result" : "results"} ${does}`;
  if (!told.results) return element("p", {}, `No result ${told.done ? "changed" : "would change"}.`);
  const more = told.more ? [`… and ${told.more} more`] : [];
  return element("details", {}, element("summary", {}, summary), list([...told.changes, ...more]));
}

export class PutRight {
  constructor() {
    this.work = new WorkShown((told) => this.seen(told));
    this.preview = element("div");
    this.exercise = element("select", { class: "rm-select ms-choice" });
    this.exercise.addEventListener("change", () => this.sayVoid());
    this.lab = element("select", { class: "rm-select ms-choice" });
    this.file = element("input", { type: "file", accept: ".md,text/markdown", class: "ms-file" });
    this.void = button("", () => this.lookAtExercise(), { class: "rm-button ms-second" });
    this.said = element("div", { role: "status" });
    this.soFar = element("div");
    const look = "See what would change";
    this.node = element(
      "section",
      {},
      element("p", {}, element("a", { class: "ms-back", href: location.pathname }, "‹ All people")),
      element("h2", { tabindex: -1 }, "Put marks right for everybody"),
      element("p", {}, "Nothing is written before you have seen what would change. What was marked stays in the records beside it."),
      this.said,
      this.work.node,
      this.preview,
      element("section", { class: "hs-box" }, element("h3", {}, "An exercise is at fault"), element("label", { class: "rm-label" }, "Exercise", this.exercise), this.void),
      element(
        "section",
        { class: "hs-box" },
        element("h3", {}, "A lab's text was corrected"),
        element("p", { class: "rm-quiet" }, "Answers, tolerances, known mistakes and words may be others; what trainees were asked, and their numbers, must be the same."),
        element("label", { class: "rm-label" }, "Lab", this.lab),
        element("label", { class: "rm-label" }, "The corrected text (lab.md)", this.file),
        button(look, () => this.lookAtText(), { class: "rm-button ms-second" }),
      ),
      element(
        "section",
        { class: "hs-box" },
        element("h3", {}, "A newer labkit marks otherwise"),
        element("p", { class: "rm-quiet" }, "A class keeps the rules by which it was dealt, until this is done."),
        button(look, () => this.look({ act: "rules" }), { class: "rm-button ms-second" }),
      ),
      this.soFar,
    );
  }

  /** What is under way, whoever began it, is seen on this page too. */
  async watch() {
    try {
      await this.work.watch((await ask(`${classPath()}work`)).work);
    } catch {
      // Whoever begins something hears of it.
    }
  }

  /** @param {any} told @param {string} lab @param {string} exercise - chosen already, "" for none */
  shown(told, lab, exercise) {
    this.labs = told.labs;
    const chosen = lab ? `${lab}/${exercise}` : this.exercise.value;
    this.preview.replaceChildren();
    this.said.replaceChildren();
    this.exercise.replaceChildren(
      ...told.labs.map((each) =>
        element(
          "optgroup",
          { label: each.title },
          ...each.exercises.map((one) =>
            element("option", { value: `${each.id}/${one.id}`, selected: `${each.id}/${one.id}` === chosen }, `${one.number}. ${one.title}${one.voided ? " (taken out)" : ""}`),
          ),
        ),
      ),
    );
    this.lab.replaceChildren(...told.labs.map((each) => element("option", { value: each.id }, each.title)));
    this.sayVoid();
    const lines = told.so_far.map((one) => `${one.since}: ${one.lab}${one.exercise && `/${one.exercise}`} ${DONE[one.what]} by ${one.by}: ${one.reason}`);
    this.soFar.replaceChildren(...(lines.length ? [element("h3", {}, "Put right so far"), list(lines)] : []));
    return this.node;
  }

  /** What an act is of, as people call it. */
  named({ lab, exercise }) {
    const found = this.labs.find((each) => each.id === lab);
    const one = found?.exercises.find((each) => each.id === exercise);
    return one ? `“${one.number}. ${one.title}” (${lab}/${exercise})` : `“${found?.title ?? lab}”`;
  }

  chosen() {
    const [lab, exercise] = this.exercise.value.split("/");
    const found = this.labs.find((each) => each.id === lab)?.exercises.find((one) => one.id === exercise);
    return { lab, exercise, act: found?.voided ? "restore" : "void" };
  }

  sayVoid() {
    this.void.textContent = this.chosen().act === "restore" ? "See what bringing it back changes" : "See what taking it out changes";
  }

  lookAtExercise() {
    return this.look(this.chosen());
  }

  async lookAtText() {
    const file = this.file.files?.[0];
    if (file) await this.look({ act: "text", lab: this.lab.value, text: await file.text() });
    else this.said.replaceChildren(problem("Choose the file with the corrected text (lab.md) first."));
  }

  async look(said) {
    this.said.replaceChildren();
    this.preview.replaceChildren();
    await this.work.begin("marks/look", said);
  }

  /** What an act would change, or has changed. @param {any} told */
  async seen({ of }) {
    if (!of) return;
    try {
      const now = await ask(`${classPath()}marks/act?${new URLSearchParams({ of })}`);
      if (now.done) await this.isDone(now);
      else this.show(of, now);
    } catch (error) {
      this.said.replaceChildren(problem(error.message));
    }
  }

  show(of, now) {
    if (now.already) {
      this.preview.replaceChildren(element("div", { class: "ms-preview" }, element("p", {}, now.already)));
      return;
    }
    const reason = element("input", { class: "rm-input", maxlength: 300, autocomplete: "off" });
    const form = element(
      "form",
      { class: "rm-form" },
      element("label", { class: "rm-label" }, "Why (it stays in the records)", reason),
      element(
        "div",
        { class: "rm-row" },
        element("button", { class: "rm-button", type: "submit" }, "Do it"),
        button("Leave it", () => this.preview.replaceChildren(), { class: "rm-button ms-second" }),
      ),
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (reason.value.trim()) this.work.begin("marks/do", { of, reason: reason.value });
      else reason.focus();
    });
    const title = element("h3", { tabindex: -1 }, WORDS[now.act](this.named(now)));
    this.preview.replaceChildren(
      element("section", { class: "ms-preview" }, title, element("p", {}, "Nothing is written yet."), ...crossing(now), results(now), form),
    );
    title.focus();
  }

  async isDone(now) {
    const told = await ask(`${classPath()}marks/corrections`);
    this.shown(told, "", "");
    const lines = [...crossing(now), results(now), ...now.remarks.map((line) => problem(line))];
    this.said.replaceChildren(element("div", { class: "ms-done" }, element("p", {}, element("b", {}, "It is done, and in the records.")), ...lines));
  }
}
