// What the boxes of the page for closing a class are made of.

import { element } from "./elements.js";
import { problem } from "./house.js";

/** A command that does the same, for who likes to type. @param {string} words */
export function command(words) {
  return element("p", { class: "cl-command" }, "The same, typed: ", element("code", {}, words));
}

/** @param {string} title @param {...(Node | string)} children */
export function box(title, ...children) {
  return element("section", { class: "hs-box" }, element("h2", {}, title), ...children);
}

/** @param {string} words @param {...(Node | string)} children */
export function fold(words, ...children) {
  return element("details", { class: "cl-fold" }, element("summary", {}, words), ...children);
}

/** A field with its label. @param {string} words @param {Record<string, string>} more */
export function field(words, more = {}) {
  const input = element("input", { class: "rm-input", autocomplete: "off", spellcheck: "false", ...more });
  return { input, label: element("label", { class: "rm-label" }, words, input) };
}

/** Lines that say what was done. @param {string[]} told */
export function lines(told) {
  return element("ul", { class: "hs-list" }, ...told.map((line) => element("li", {}, line)));
}

/**
 * A form that sends when its button is pressed, and says at its place what went wrong.
 * @param {string} words - on its button
 * @param {() => Promise<void>} send
 * @param {...(Node | string)} children
 */
export function form(words, send, ...children) {
  const wrong = element("div", { class: "cl-told" });
  const go = element("button", { class: "rm-button", type: "submit" }, words);
  const made = element("form", { class: "cl-form" }, ...children, go, wrong);
  made.addEventListener("submit", async (event) => {
    event.preventDefault();
    wrong.replaceChildren();
    go.disabled = true;
    try {
      await send();
    } catch (error) {
      wrong.replaceChildren(problem(error.message));
    }
    go.disabled = false;
  });
  return made;
}
