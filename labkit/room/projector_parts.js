// What several of the projector's pictures begin with.

import { element } from "./elements.js";

/** HTML that the room made of a lab's text. @param {string} text @param {string} name */
export function html(text, name) {
  const node = element("div", { class: name });
  node.innerHTML = text;
  return node;
}

/** @param {string} above @param {string} title @param {string} [beside] */
export function head(above, title, beside = "") {
  return element(
    "header",
    { class: "pj-head" },
    element("div", {}, element("p", { class: "pj-above" }, above), element("h1", {}, title)),
    element("p", { class: "pj-beside" }, beside),
  );
}

/** Cautions, always in sight. @param {string[]} cautions */
export function cautionsOf(cautions) {
  return cautions.length ? [element("aside", { class: "pj-cautions", "aria-label": "Caution" }, ...cautions.map((text) => html(text, "")))] : [];
}
