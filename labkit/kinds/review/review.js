// A proposed drawing to review: who presses a place gets a line to say what is wrong there.

/** @import { Build } from "./frame.js" */

import { button, element } from "./elements.js";
import { exercise } from "./frame.js";

const NOTHING = "nothing";

/** @typedef {{ id: string, number: number, words: string }} Part */
/** @typedef {{ svg: string, width: number, height: number, boxes: Record<string, number[][]> }} Drawn */
/** @typedef {{ part: string, rule: string }} Mark */
/** @typedef {{ drawings: Drawn[], parts: Part[], rules: { id: string, words: string }[], most: number }} View */

/** @param {Part} part */
const named = (part) => `Place ${part.number}: ${part.words}`;

/** A place over the drawing, in per cent of it. @param {HTMLElement} node @param {number[]} box @param {Drawn} drawn */
function lay(node, [left, top, width, height], drawn) {
  node.style.left = `${(100 * left) / drawn.width}%`;
  node.style.top = `${(100 * top) / drawn.height}%`;
  node.style.width = `${(100 * width) / drawn.width}%`;
  node.style.height = `${(100 * height) / drawn.height}%`;
}

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
    /** @type {{ part: string, node: HTMLElement }[]} */
    this.places = [];
    this.list = element("ol", { class: "lk-review-list", "aria-label": "What you mark as wrong" });
    this.told = element("p", { class: "lk-review-told", role: "status", "aria-live": "polite" });
    this.nothing = element("input", { type: "checkbox" });
    this.nothing.addEventListener("change", () => this.saidNothing());
    this.stages = view.drawings.map((drawn, at) => this.stage(drawn, at === 0 ? "lk-review-wide" : "lk-review-narrow"));
    this.show();
  }

  /** @param {Drawn} drawn @param {string} name */
  stage(drawn, name) {
    const picture = element("div", { class: "lk-review-picture" });
    picture.innerHTML = drawn.svg; // Python's own drawing
    const stage = element("div", { class: "lk-review-stage" }, picture);
    for (const part of this.view.parts) {
      stage.append(...(drawn.boxes[part.id] ?? []).map((box, at) => this.place(part, box, drawn, at)));
    }
    return element("div", { class: `lk-review-scroll ${name}` }, stage);
  }

  /** A button over a part; a trunk that goes on in a second row has two. */
  /** @param {Part} part @param {number[]} box @param {Drawn} drawn @param {number} at */
  place(part, box, drawn, at) {
    const node = button("", () => this.add(part), { class: "lk-review-place", "data-part": part.id, "aria-label": `${named(part)}: mark as wrong` });
    if (at) {
      node.tabIndex = -1;
      node.setAttribute("aria-hidden", "true");
    }
    lay(node, box, drawn);
    this.places.push({ part: part.id, node });
    return node;
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
    const shown = this.places.find(({ part: id, node }) => id === part.id && node.offsetParent);
    shown?.node.focus({ preventScroll: true });
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

  /** @param {Mark} mark @returns {Part} */
  partOf(mark) {
    return /** @type {Part} */ (this.view.parts.find(({ id }) => id === mark.part));
  }

  show() {
    this.list.replaceChildren(...this.marks.map((mark, index) => this.row(mark, index)));
    const marked = new Set(this.marks.map(({ part }) => part));
    for (const { part, node } of this.places) node.classList.toggle("lk-review-marked", marked.has(part));
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
  root.append(element("p", { class: "lk-caption" }, help), ...reviewing.stages, reviewing.told, reviewing.list, nothing);
  root.addEventListener("keydown", (event) => event.stopPropagation());
  return { get: () => reviewing.get(), set: (answer) => reviewing.set(answer) };
}

export default { render: exercise(build) };
