// The lines that a form takes out of the file and puts in, before anything is written.

import { element } from "./elements.js";

/** @typedef {{ line: number, lines: [string, string][] }} Hunk */

const SPOKEN = { "-": "goes: ", "+": "comes: ", " ": "" };

/** @param {Hunk[]} hunks */
export function linesShown(hunks) {
  return element(
    "div",
    { class: "pf-hunks", tabindex: 0, role: "group", "aria-label": "The lines that are written" },
    ...hunks.map(({ line, lines }) =>
      element(
        "div",
        {},
        element("p", { class: "pf-where" }, `From line ${line} on`),
        element("div", { class: "pf-hunk" }, ...lines.map(([sign, text]) => lineShown(sign, text))),
      ),
    ),
  );
}

/** @param {string} sign @param {string} text */
function lineShown(sign, text) {
  const stays = sign === " ";
  return element(
    "div",
    { class: "pf-line", "data-sign": stays ? null : sign },
    element("span", { class: "pf-sign", "aria-hidden": "true" }, stays ? " " : sign),
    ...(stays ? [] : [element("span", { class: "pg-spoken" }, SPOKEN[sign])]),
    element("code", {}, text || " "),
  );
}
