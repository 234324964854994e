// What the other one does who works in this workbook: a line in the head, for a while.

import { element } from "./elements.js";

const SHOWN_MS = 12000;

export class OtherHand {
  /** @param {string[]} exercises - in their order */
  constructor(exercises) {
    this.exercises = exercises;
    this.node = element("p", { class: "pg-other", role: "status" });
    this.timer = 0;
  }

  /** @param {string} name @param {string} exercise @param {any} before @param {any} saved @param {boolean} stepped */
  did(name, exercise, before, saved, stepped) {
    const words = stepped ? "worked at the bench of" : what(before, saved);
    if (!words) return;
    this.node.textContent = `${name} ${words} exercise ${this.exercises.indexOf(exercise) + 1}.`;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => (this.node.textContent = ""), SHOWN_MS);
  }
}

function what(before, saved) {
  if (saved.hints.length > before.hints.length) return "opened a hint in";
  return saved.token !== before.token ? "answered" : "";
}
