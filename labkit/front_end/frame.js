// The frame around every exercise. A kind's own module imports `exercise` and ends with
// `export default { render: exercise(build) };`
//
// build(root, { shown, changed, settled, submit, step }) makes the answer area and returns
// { get(), set(answer) }. It calls changed() on every keystroke, settled() when the trainee is done with
// a field, and submit() where Enter saves. A kind that is worked on in steps calls step(data), which
// promises Python's reply once the step is on disk; a second argument says after how many ms without a
// reply the page may call the engine stuck. stands(view), where it returns one, hears how things stand
// after steps that were taken in another window.
//
// The page shows an answer as saved only when Python says that it is on disk. Until then the answer
// is also kept in this browser, so that a dead kernel or a reload does not lose it.

/** @import { Model, Reply } from "./messages.js" */

import { draftStore } from "./draft_store.js";
import { button, element, newToken } from "./elements.js";
import { hintBox, marksText } from "./hints.js";
import { keeper, stepQueue } from "./messages.js";
import { exampleBox, verdictBox } from "./verdict.js";

/**
 * What Python shows of an exercise.
 * @typedef {object} Shown
 * @property {string} id
 * @property {number} number
 * @property {string} title
 * @property {string} question - HTML
 * @property {number} marks
 * @property {boolean} practice
 * @property {boolean} awaits - a person marks
 * @property {number[]} hints - what each costs, in marks
 * @property {any} ask - the kind's own
 * @property {any} view - the kind's own
 *
 * @typedef {object} Hooks
 * @property {Shown} shown
 * @property {() => void} changed
 * @property {() => void} settled
 * @property {() => void} submit
 * @property {(data: any, patience?: number) => Promise<any>} step
 *
 * @typedef {{ get(): any, set(answer: any): void, stands?(view: any): void }} Area
 * @typedef {(root: HTMLElement, hooks: Hooks) => Area} Build
 * @typedef {{ model: Model, el: HTMLElement }} Context
 */

const WORDS = {
  empty: "No answer yet.",
  editing: "Not saved yet.",
  saving: "Saving …",
  stuck:
    "Not saved yet. The workbook's engine does not answer. Your answer is kept on this page and is " +
    "saved as soon as the engine is back: see the line at the top.",
};
const TRIED_AGAIN = "Your answer is kept on this page, which tries again by itself.";

function clockTime(iso) {
  const time = new Date(iso);
  return Number.isNaN(time.getTime()) ? "" : time.toLocaleTimeString([], { hour12: false });
}

// The line that says how the answer stands; `root` carries the state.
function statusLine(root) {
  const node = element("p", { class: "lk-status", role: "status", "aria-live": "polite" });
  return {
    node,
    is: (state) => root.dataset.state === state,
    tell(state, words) {
      root.dataset.state = state;
      node.textContent = words ?? WORDS[state];
      node.classList.toggle("lk-warn", state === "stuck" || state === "failed");
    },
  };
}

function emptyFrame(shown) {
  const heading = element("h3", { id: `lk-heading-${newToken()}` }, `${shown.number}. ${shown.title}`);
  const question = element("div", { class: "lk-question" });
  question.innerHTML = shown.question;
  const marks = element("span", { class: "lk-marks" }, marksText(shown.marks));
  return element(
    "section",
    { class: "lk-exercise", "aria-labelledby": heading.id, "data-exercise": shown.id },
    element("header", { class: "lk-header" }, heading, marks),
    question,
  );
}

/**
 * @param {Build} build
 * @returns {(context: Context) => () => void}
 */
export function exercise(build) {
  return ({ model, el }) => {
    const shown = model.get("shown");
    const root = emptyFrame(shown);
    el.replaceChildren(root);
    const answering = new Answering(root, shown, model, build);
    answering.start();
    return () => answering.stop();
  };
}

// One answer: typed, sent, saved, and what is told of it.
class Answering {
  /** @param {HTMLElement} root @param {Shown} shown @param {Model} model @param {Build} build */
  constructor(root, shown, model, build) {
    // Words are why the host could not keep it; of one that says nothing the page tells in the host's own.
    const stuck = (words = "") => this.status.tell("stuck", words ? `${words} ${TRIED_AGAIN}` : model.get("stuck"));
    this.model = model;
    this.checks = shown.practice && !shown.awaits;
    this.typed = false; // whether what stands here was typed in this window and is not saved yet
    this.stepped = false; // whether a step was taken since the answer was sent
    this.kept = draftStore(`labkit:${model.get("workbook")}:${shown.id}`);
    this.status = statusLine(root);
    this.verdict = verdictBox(root, shown.awaits);
    this.example = exampleBox();
    this.keeping = keeper(model, stuck);
    this.steps = stepQueue(model, { stuck, heard: () => this.status.is("stuck") && this.show() });
    this.hints = hintBox(shown.hints, {
      take: () => this.keep({ do: "hint" }),
      taken: () => this.saved.hints.length,
    });
    const area = element("div", { class: "lk-area" });
    root.append(area, this.buttons(shown), this.hints.consent, this.status.node);
    root.append(this.hints.list, this.verdict.node, this.example.node);
    this.answer = build(area, {
      shown,
      changed: () => this.changed(),
      settled: () => this.settled(),
      submit: () => this.submit(),
      step: (data, patience) => {
        this.stepped = true;
        return this.steps.step(data, patience);
      },
    });
    this.heard = this.heard.bind(this);
    this.isBack = this.isBack.bind(this);
    this.savedElsewhere = this.savedElsewhere.bind(this);
  }

  get saved() {
    return this.model.get("saved");
  }

  buttons(shown) {
    const words = this.checks ? "Check my answer" : "Save my answer";
    const save = button(words, () => this.submit(), { class: "lk-button lk-main" });
    return element("div", { class: "lk-buttons" }, save, ...(shown.hints.length ? [this.hints.button] : []));
  }

  start() {
    this.model.on("msg:custom", this.heard);
    this.model.on("change:saved", this.savedElsewhere);
    this.model.on("back", this.isBack);
    if (this.saved.answered) this.answer.set(this.saved.answer);
    this.show();
    this.takeUpDraft();
  }

  stop() {
    this.keeping.stop();
    this.steps.stop();
    this.model.off("msg:custom", this.heard);
    this.model.off("change:saved", this.savedElsewhere);
    this.model.off("back", this.isBack);
  }

  keep(message) {
    this.hints.wait();
    this.status.tell("saving");
    this.keeping.keep(message);
  }

  submit() {
    const answer = this.answer.get();
    if (this.keeping.waitsFor(answer)) {
      this.keeping.hurry(); // Enter and then the button: one answer
      return;
    }
    if (this.isOnDisk(answer)) return;
    this.stepped = false;
    this.kept.write({ answer, pending: true });
    this.keep({ do: "answer", answer });
  }

  // Leaving a field saves it, and the press on the button that made it so may come after: one answer.
  isOnDisk(answer) {
    const nothingNew = !this.checks && !this.stepped && this.status.is("saved");
    return nothingNew && JSON.stringify(answer) === JSON.stringify(this.saved.answer);
  }

  changed() {
    this.typed = true;
    this.kept.write({ answer: this.answer.get(), pending: false });
    if (this.status.is("saved")) this.verdict.stale();
    if (!this.keeping.waits()) this.status.tell("editing");
  }

  settled() {
    // In practice a check is the trainee's own decision; what nobody checks here is saved at once.
    if (this.checks) return;
    const newer = this.keeping.waits() && !this.keeping.waitsFor(this.answer.get());
    if (this.status.is("editing") || newer) this.submit();
  }

  show() {
    const { saved } = this;
    this.typed = false;
    const by = saved.by ? ` by ${saved.by}` : "";
    if (saved.answered) this.status.tell("saved", `Saved ${clockTime(saved.at)}${by}.`);
    else this.status.tell("empty");
    this.verdict.show(saved.verdict);
    this.example.show(saved.example);
    this.hints.show(saved);
  }

  /** @param {Reply} reply */
  heard(reply) {
    if (reply.stands) return this.answer.stands?.(reply.stands);
    // What came of a step is told to all windows of a notebook.
    if (!this.steps.answered(reply) && reply.reply) this.answer.stands?.(reply.reply);
    const message = this.keeping.answered(reply);
    if (!message) return;
    this.hints.go();
    if (reply.failed) {
      this.status.tell("failed", `${reply.failed} Your answer is still on this page.`);
      return;
    }
    const wasAnswer = message.do === "answer";
    const typedOn = JSON.stringify(this.answer.get()) !== JSON.stringify(message.answer);
    if (wasAnswer && !typedOn) this.kept.clear();
    this.show();
    if (!typedOn || !this.kept.read()) return;
    this.typed = true;
    this.status.tell("editing");
    if (wasAnswer) this.verdict.stale();
  }

  isBack() {
    this.keeping.back();
    this.steps.back();
  }

  savedElsewhere() {
    // The same workbook in a second window: show what was saved there, but keep what is typed here.
    if (this.keeping.waits()) return;
    const answer = this.answer.get();
    if (this.typed && JSON.stringify(answer) !== JSON.stringify(this.saved.answer)) {
      this.kept.write({ answer, pending: false }); // drafts are kept at one place for both windows
      return;
    }
    if (this.saved.answered) this.answer.set(this.saved.answer);
    this.show();
  }

  takeUpDraft() {
    const draft = this.kept.read();
    if (!draft) return;
    if (JSON.stringify(draft.answer) === JSON.stringify(this.saved.answer)) {
      this.kept.clear();
      return;
    }
    this.answer.set(draft.answer);
    this.verdict.stale();
    this.status.tell("editing");
    if (draft.pending) this.submit();
  }
}
