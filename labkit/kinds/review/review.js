// A proposed drawing to review: who presses a place gets a line to say what is wrong there.

/** @import { Build } from "./frame.js" */

import { DrawnPlaces } from "./drawn_places.js";
import { button, element } from "./elements.js";
import { exercise } from "./frame.js";

const NOTHING = "nothing";

/** @typedef {{ id: string, number: number, words: string }} Part */
/** @typedef {{ part: string, rule: string }} Mark */
/** @typedef {{ drawings: any[], parts: Part[], rules: { id: string, words: string }[], most: number }} View */

/** @param {Part} part */
const named = (part) => `Place ${part.number}: ${part.words}`;

// What of an answer can stand here: a draft may be anything.
/** @param {any} answer @param {View} view @returns {Mark[]} */
function marksOf(answer, { parts, rules, most }) {
  if (!Array.isArray(answer)) return [];
  const known = answer.filter((mark) => mark && parts.some(({ id }) => id === mark.part));
  return known.slice(0, most).map(({ part, rule }) => ({ part, rule: rules.some(({ id }) => id === rule) ? rule : "" }));
}

class Reviewing {
  /** @param {View} view @param {() => void} altered - tells that the answer is another */
  constructor(view, altered) {
    this.view = view;
    this.altered = altered;
    /** @type {Mark[]} */
    this.marks = [];
    this.list = element("ol", { class: "lk-review-list", "aria-label": "What you mark as wrong" });
    this.told = element("p", { class: "lk-review-told", role: "status", "aria-live": "polite" });
    this.nothing = element("input", { type: "checkbox" });
    this.nothing.addEventListener("change", () => this.saidNothing());
    const said = view.parts.map((part) => ({ id: part.id, said: `${named(part)}: mark as wrong` }));
    this.places = new DrawnPlaces(view.drawings, said, (id) => this.add(this.partWith(id)));
    this.show();
  }

  /** @param {Part} part */
  add(part) {
    const open = this.marks.findIndex((mark) => mark.part === part.id && !mark.rule);
    if (open >= 0) return this.choose(open);
    if (this.marks.length >= this.view.most) {
      this.told.textContent = `There are ${this.view.most} marks: take one away first.`;
      return undefined;
    }
    this.become([...this.marks, { part: part.id, rule: "" }], `Place ${part.number} is marked: say what is wrong there.`);
    return this.choose(this.marks.length - 1);
  }

  /** The list of the mark, to choose from. @param {number} index */
  choose(index) {
    this.list.querySelectorAll("select")[index]?.focus();
  }

  /** @param {number} index */
  take(index) {
    const part = this.partOf(this.marks[index]);
    this.become(
      this.marks.filter((_, each) => each !== index),
      `The mark at place ${part.number} is taken away.`,
    );
    this.places.focus(part.id);
  }

  /** @param {Mark[]} marks @param {string} words */
  become(marks, words) {
    this.marks = marks;
    if (marks.length) this.nothing.checked = false;
    this.show();
    this.told.textContent = words;
    this.altered();
  }

  saidNothing() {
    if (this.nothing.checked) this.marks = [];
    this.show();
    this.told.textContent = "";
    this.altered();
  }

  /** @param {string} wanted @returns {Part} */
  partWith(wanted) {
    return /** @type {Part} */ (this.view.parts.find(({ id }) => id === wanted));
  }

  /** @param {Mark} mark */
  partOf(mark) {
    return this.partWith(mark.part);
  }

  show() {
    this.list.replaceChildren(...this.marks.map((mark, index) => this.row(mark, index)));
    this.places.mark(new Set(this.marks.map(({ part }) => part)));
  }

  /** @param {Mark} mark @param {number} index */
  row(mark, index) {
    const part = this.partOf(mark);
    const options = [{ id: "", words: "What is wrong here?" }, ...this.view.rules];
    const select = element(
      "select",
      { class: "lk-input lk-select", "aria-label": `What is wrong at place ${part.number}` },
      ...options.map(({ id, words }) => element("option", { value: id, selected: id === mark.rule }, words)),
    );
    select.addEventListener("change", () => {
      this.marks[index].rule = select.value;
      this.altered();
    });
    const away = button("Take away", () => this.take(index), { "aria-label": `Take the mark at place ${part.number} away` });
    return element("li", {}, element("span", { class: "lk-review-part" }, named(part)), element("div", { class: "lk-review-said" }, select, away));
  }

  /** @returns {Mark[] | string} */
  get() {
    return this.nothing.checked ? NOTHING : this.marks;
  }

  /** @param {any} answer */
  set(answer) {
    this.nothing.checked = answer === NOTHING;
    this.marks = marksOf(answer, this.view);
    this.show();
  }
}

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const reviewing = new Reviewing(shown.view, () => {
    changed();
    settled();
  });
  const help = "Press a place in the drawing that is wrong, then say what is wrong there. A place can be wrong in two ways: press it again. Whoever accuses what is right loses marks.";
  const nothing = element("label", { class: "lk-option" }, reviewing.nothing, element("span", {}, "Nothing in this drawing is wrong"));
  root.append(element("p", { class: "lk-caption" }, help), ...reviewing.places.stages, reviewing.told, reviewing.list, nothing);
  root.addEventListener("keydown", (event) => event.stopPropagation());
  return { get: () => reviewing.get(), set: (answer) => reviewing.set(answer) };
}

export default { render: exercise(build) };
