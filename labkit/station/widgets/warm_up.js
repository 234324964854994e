// The morning's warm-up above a workbook: its questions, and what is read before the one that is asked.
// The question itself comes below, from the page module of its kind.

import { button, element } from "./elements.js";
import { madeOf, stateWords } from "./warm_up_words.js";

const WAIT_MS = 6000;
const NOT_YET = "The workbook's engine does not answer: see the line at the top. Press again when it is back.";

// Python's own HTML and drawing, as those of the workbook.
function written(html, name) {
  const node = element("div", { class: name });
  node.innerHTML = html;
  return node;
}

function folded(words, html, name) {
  return element("details", { class: "lk-warm-read" }, element("summary", {}, words), written(html, name));
}

function caution(html) {
  const node = written(html, "lk-warm-caution");
  node.setAttribute("role", "note");
  return node;
}

// What is read before the question that is asked.
function reading({ at, of, lab_title: lab, cautions, texts, picture }) {
  const heading = element("h3", { tabindex: "-1" }, `Warm-up question ${at} of ${of}`);
  const parts = cautions.map(caution);
  if (picture) parts.push(folded("The network of this question", picture, "lk-warm-picture"));
  if (texts.length) parts.push(folded("Read first, with the numbers of this question", texts.join(""), "lk-warm-text"));
  return { heading, nodes: [heading, element("p", { class: "lk-caption" }, `From ${lab}. Other numbers than yours.`), ...parts] };
}

class WarmUp {
  constructor(model) {
    this.model = model;
    this.token = "";
    this.timer = 0;
    const heading = element("h2", { id: `lk-warm-${Math.random()}` }, "Warm-up");
    this.lead = element("p");
    this.list = element("ol", { class: "lk-warm-list" });
    this.go = button("", () => this.goOn(), { class: "lk-button lk-main" });
    this.away = button("Put it away", () => this.put(), { class: "lk-button", hidden: true });
    this.status = element("p", { class: "lk-status", role: "status" });
    this.place = element("div", { class: "lk-warm-asked" });
    this.node = element(
      "section",
      { class: "lk-welcome lk-warm", "aria-labelledby": heading.id },
      heading,
      this.lead,
      this.list,
      element("div", { class: "lk-buttons" }, this.go, this.away),
      this.status,
      this.place,
    );
    this.show = this.show.bind(this);
    this.asked = this.asked.bind(this);
  }

  get questions() {
    return this.model.get("shown").questions;
  }

  show() {
    this.lead.textContent = madeOf(this.model.get("shown"));
    const held = this.list.contains(document.activeElement);
    const now = [...this.list.querySelectorAll("button")].indexOf(/** @type {any} */ (document.activeElement));
    this.list.replaceChildren(...this.questions.map((each, number) => this.line(each, number)));
    if (held) this.list.querySelectorAll("button")[now]?.focus();
    this.offers();
    const left = this.questions.some(({ right }) => right === null);
    if (!left) this.status.textContent = "All answered. The workbook goes on below.";
  }

  // The question that comes next: the first without an answer after the one that is asked, or before it.
  get next() {
    const { at = 0 } = this.model.get("asked");
    const open = this.questions.flatMap(({ right }, number) => (right === null && number !== at - 1 ? [number] : []));
    return open.find((number) => number >= at) ?? open[0];
  }

  offers() {
    this.go.hidden = this.next === undefined;
    const begun = this.model.get("asked").at || this.questions.some(({ right }) => right !== null);
    this.go.textContent = begun ? "Next question" : "Begin the warm-up";
  }

  line({ title, lab_title: lab, right }, number) {
    const press = button(title, () => this.ask(number), { class: "lk-warm-ask" });
    const of = element("span", { class: "lk-caption" }, ` · ${lab}`);
    return element("li", {}, press, of, element("b", {}, stateWords(right)));
  }

  goOn() {
    if (this.next !== undefined) this.ask(this.next);
  }

  put() {
    this.say({ do: "put away" });
    this.list.querySelector("button")?.focus();
  }

  ask(number) {
    this.say({ do: "ask", question: number });
  }

  say(message) {
    this.token = String(Math.random());
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      this.status.textContent = NOT_YET;
    }, WAIT_MS);
    try {
      this.model.send({ ...message, token: this.token });
    } catch {
      /* the timer tells */
    }
  }

  // What was asked for in another window of the same workbook shows here too, but takes no focus.
  asked() {
    const asked = this.model.get("asked");
    const mine = asked.token === this.token;
    if (mine) clearTimeout(this.timer);
    if (mine) this.status.textContent = asked.failed ?? "";
    this.away.hidden = !asked.at;
    this.offers();
    this.place.replaceChildren();
    if (!asked.at) return;
    const { heading, nodes } = reading(asked);
    this.place.replaceChildren(...nodes);
    if (mine) heading.focus();
  }

  stop() {
    clearTimeout(this.timer);
    this.model.off("change:shown", this.show);
    this.model.off("change:asked", this.asked);
  }
}

function render({ model, el }) {
  const warmUp = new WarmUp(model);
  el.replaceChildren(warmUp.node);
  model.on("change:shown", warmUp.show);
  model.on("change:asked", warmUp.asked);
  warmUp.show();
  warmUp.asked();
  return () => warmUp.stop();
}

export default { render };
