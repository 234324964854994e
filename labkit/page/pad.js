// A scratch pad beside the questions: lines that the host calculates as it reads answers, and notes.
// What is written stays in this browser, with the drafts of the same person at the same workbook.

import { draftStore } from "./draft_store.js";
import { button, element } from "./elements.js";

const MOST_LINES = 60;
const LONGEST_SUM = 200; // what is longer is a note
const REST_MS = 600; // nobody wants to be told what is wrong while they type
const AGAIN_MS = 1000;
const AWAY_AGAIN_MS = 4000;
const NO_ANSWER_AFTER_MS = 15_000;
const AWAY = "Your instructor's machine does not answer: results come when it is back.";
const TOO_SOON = 429;
const FULL = `The pad is full: ${MOST_LINES} lines.`;

const HELP = [
  "One sum a line: 24 V - 2 * 1.2 A * 0.9 ohm",
  "Units are written as in answers: 0,5 A * 30 m * 0.023 ohm/m",
  "Give a result a name and use it below: loop = 120 ohm / 2",
  "All else is a note and stays as it is.",
  "Alt+P opens and folds the pad.",
];

/** @typedef {{ result: string, wrong: string }} Beside */

class Line {
  /** @param {string} text */
  constructor(text) {
    this.area = element("textarea", { class: "pg-pad-text", rows: 1, spellcheck: "false", autocomplete: "off" });
    this.area.value = text;
    this.beside = element("output", { class: "pg-pad-beside" });
    this.node = element("li", { class: "pg-pad-line" }, this.area, this.beside);
  }

  /** @param {number} number */
  isNumber(number) {
    this.beside.id = `pg-pad-${number}`;
    this.area.setAttribute("aria-label", `Line ${number}`);
    this.area.setAttribute("aria-describedby", this.beside.id);
  }

  /** @param {Beside} [beside] - without one: what stood there holds no more */
  shows({ result, wrong } = { result: "", wrong: "" }) {
    this.beside.classList.toggle("pg-pad-wrong", wrong !== "");
    const words = result || wrong;
    if (this.beside.textContent !== words) this.beside.textContent = words;
  }
}

export class Pad {
  /** @param {string} drafts - the name of the drafts of this person at this workbook */
  constructor(drafts) {
    this.key = `labkit:${drafts}#pad`; // no exercise is called so
    this.store = draftStore(this.key);
    /** @type {Line[]} */
    this.lines = [];
    this.asking = false;
    this.timer = 0;
    /** @type {Element | null} */
    this.from = null;
    this.list = element("ol", { class: "pg-pad-lines" });
    this.status = element("p", { class: "pg-told", role: "status" });
    this.clear = button("Clear", () => this.clears(), { class: "pg-button pg-small" });
    this.clear.addEventListener("blur", () => this.asksToClear(false));
    this.body = element(
      "div",
      { class: "pg-pad-body", id: "pg-pad-body", hidden: true },
      element("p", { class: "pg-aside" }, "For notes and sums. Nobody else sees it, and it is not handed in."),
      this.list,
      element("div", { class: "pg-pad-foot" }, this.clear, this.status),
      helpBox(),
    );
    this.press = button("Scratch pad", () => (this.isOpen ? this.folds() : this.opens()), {
      class: "pg-button pg-pad-press",
      "aria-controls": this.body.id,
      "aria-keyshortcuts": "Alt+P",
      "aria-expanded": "false",
      title: "Alt+P opens and folds it",
    });
    this.node = element("section", { class: "pg-pad", "aria-label": "Scratch pad" }, this.press, this.body);
    this.list.addEventListener("input", (event) => this.isTyped(event.target));
    this.list.addEventListener("keydown", (event) => this.isPressed(event));
    this.node.addEventListener("keydown", ({ key }) => {
      if (key === "Escape" && this.isOpen) this.folds();
    });
    // Before an exercise has the key: it lets none of its own go further.
    document.addEventListener("keydown", (event) => this.isCalled(event), true);
    addEventListener("storage", ({ key }) => {
      if (key === this.key && !this.hasFocus) this.reads(); // written in another window
    });
    this.reads();
  }

  /** @param {KeyboardEvent} event */
  isCalled(event) {
    if (event.code !== "KeyP" || !event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    if (this.isOpen && this.hasFocus) this.folds();
    else this.opens();
  }

  get isOpen() {
    return !this.body.hidden;
  }

  get hasFocus() {
    return this.node.contains(document.activeElement);
  }

  get texts() {
    return this.lines.map(({ area }) => area.value);
  }

  opens() {
    if (!this.hasFocus) this.from = document.activeElement;
    this.unfolds(true);
    this.goTo(this.lines.length - 1);
    this.asksSoon(0);
  }

  folds() {
    const back = this.from instanceof HTMLElement && this.from.isConnected ? this.from : document.body;
    const goesBack = this.body.contains(document.activeElement);
    this.unfolds(false);
    if (goesBack) (back === document.body ? this.press : back).focus();
  }

  /** @param {boolean} open */
  unfolds(open) {
    this.body.hidden = !open;
    this.press.setAttribute("aria-expanded", String(open));
  }

  /** @param {number} at @param {number} [column] */
  goTo(at, column = Number.POSITIVE_INFINITY) {
    const area = this.lines[at]?.area;
    if (!area) return;
    area.focus();
    const caret = Math.min(column, area.value.length);
    area.setSelectionRange(caret, caret);
  }

  reads() {
    const texts = this.store.read()?.answer;
    this.shows(Array.isArray(texts) && texts.length ? texts.map(String) : [""]);
    if (this.isOpen) this.asksSoon(0);
  }

  /** @param {string[]} texts */
  shows(texts) {
    this.lines = texts.map((text) => new Line(text));
    this.isArranged();
  }

  isArranged() {
    for (const [index, line] of this.lines.entries()) line.isNumber(index + 1);
    this.list.replaceChildren(...this.lines.map(({ node }) => node));
    this.clear.hidden = this.texts.every((text) => text === "");
  }

  /** @param {EventTarget | null} area */
  isTyped(area) {
    const at = this.lines.findIndex((line) => line.area === area);
    if (at < 0) return;
    if (this.lines[at].area.value.includes("\n")) this.cuts(at);
    this.isChanged(at);
  }

  // A line that was ended, or several that were pasted.
  /** @param {number} at */
  cuts(at) {
    const { area } = this.lines[at];
    const before = area.value.slice(0, area.selectionStart).split("\n");
    const room = MOST_LINES - this.lines.length + 1;
    const texts = area.value.split("\n");
    const [first, ...more] = [...texts.slice(0, room - 1), texts.slice(room - 1).join(" ")].slice(0, texts.length);
    area.value = first;
    this.lines.splice(at + 1, 0, ...more.map((text) => new Line(text)));
    this.isArranged();
    this.status.textContent = texts.length > room ? FULL : "";
    const to = Math.min(before.length - 1, more.length);
    this.goTo(at + to, before[to].length);
  }

  /** @param {KeyboardEvent} event */
  isPressed(event) {
    const at = this.lines.findIndex(({ area }) => area === event.target);
    if (at < 0 || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const { selectionStart: caret, selectionEnd: end, value } = this.lines[at].area;
    if (event.key === "ArrowUp" && at > 0) this.goTo(at - 1, caret);
    else if (event.key === "ArrowDown" && at + 1 < this.lines.length) this.goTo(at + 1, caret);
    else if (event.key === "Backspace" && end === 0 && at > 0) this.joins(at);
    else if (event.key === "Delete" && caret === value.length && at + 1 < this.lines.length) this.joins(at + 1);
    else return;
    event.preventDefault();
  }

  /** Put a line behind the one before it. @param {number} at */
  joins(at) {
    const [line] = this.lines.splice(at, 1);
    const { area } = this.lines[at - 1];
    const column = area.value.length;
    area.value += line.area.value;
    this.isArranged();
    this.goTo(at - 1, column);
    this.status.textContent = "";
    this.isChanged(at - 1);
  }

  /** @param {number} at - a later line may use a name of this one */
  isChanged(at) {
    for (const line of this.lines.slice(at)) line.shows();
    this.clear.hidden = this.texts.every((text) => text === "");
    this.store.write({ answer: this.texts, pending: false });
    this.asksSoon(REST_MS);
  }

  clears() {
    if (this.clear.dataset.sure !== "yes") return this.asksToClear(true);
    this.asksToClear(false);
    this.store.clear();
    this.status.textContent = "";
    this.shows([""]);
    this.goTo(0);
  }

  /** @param {boolean} asks */
  asksToClear(asks) {
    this.clear.dataset.sure = asks ? "yes" : "";
    this.clear.textContent = asks ? "Press again to clear all lines" : "Clear";
  }

  /** @param {number} ms */
  asksSoon(ms) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.asks(), ms);
  }

  // One question at a time: what was changed meanwhile is asked after it.
  async asks() {
    if (this.asking || !this.isOpen) return;
    this.asking = true;
    const texts = this.texts;
    const again = await this.asked(texts);
    this.asking = false;
    if (again) this.asksSoon(again);
    else if (texts.join("\n") !== this.texts.join("\n")) this.asksSoon(REST_MS);
  }

  /** Ask what stands beside these lines; when to ask again, 0 for never. @param {string[]} texts */
  async asked(texts) {
    try {
      const body = JSON.stringify({ lines: texts.map((text) => text.slice(0, LONGEST_SUM + 1)) });
      const answer = await fetch("pad", { method: "POST", body, signal: AbortSignal.timeout(NO_ANSWER_AFTER_MS) });
      if (answer.status === TOO_SOON) return AGAIN_MS;
      if (answer.status >= 500) throw new Error("in trouble, or away");
      if (answer.ok) this.takes(texts, await answer.json());
      else this.status.textContent = await answer.text();
      return 0;
    } catch {
      this.status.textContent = AWAY;
      return AWAY_AGAIN_MS;
    }
  }

  /** @param {string[]} texts @param {Beside[]} found */
  takes(texts, found) {
    if (this.status.textContent === AWAY) this.status.textContent = "";
    if (texts.join("\n") !== this.texts.join("\n")) return; // of lines that are others by now
    for (const [index, line] of this.lines.entries()) line.shows(found[index]);
  }
}

function helpBox() {
  const list = element("ul", {}, ...HELP.map((each) => element("li", {}, each)));
  return element("details", { class: "pg-pad-help" }, element("summary", {}, "How to write a sum"), list);
}
