// What was heard on a real network, held against the plan: a line each thing, as Python says it.

import { element } from "./elements.js";

/**
 * @typedef {{ what: string, planned: string, heard: string, state: string }} Line
 * @typedef {{ name: string, summary: string, lines: Line[], remarks: string[], problem: string }} Agreements
 */

/** Never by colour alone. @type {Record<string, [string, string]>} */
const SIGNS = {
  agrees: ["✓", "agrees"],
  differs: ["≠", "differs"],
  "cannot be told from this log": ["?", "cannot be told"],
};

/** @param {Line} line */
function row(line) {
  const [sign, words] = SIGNS[line.state] ?? ["?", line.state];
  const state = element("span", { class: "lk-ag-state" }, element("span", { class: "lk-ag-sign", "aria-hidden": "true" }, sign), words);
  return element(
    "tr",
    { "data-state": words },
    element("th", { scope: "row" }, line.what),
    element("td", { "data-words": "Planned: " }, line.planned),
    element("td", { "data-words": "Heard: " }, line.heard),
    element("td", {}, state),
  );
}

/**
 * The lines as a table, with what is to be known of the log.
 * @param {Agreements} told
 * @returns {HTMLElement}
 */
export function agreementTable(told) {
  if (told.problem) return element("p", { class: "lk-ag-problem" }, `${told.name}: ${told.problem}`);
  const head = ["What", "Planned", "Heard", "Agreement"].map((words) => element("th", { scope: "col" }, words));
  const table = element(
    "table",
    { class: "lk-ag-lines" },
    element("caption", {}, `${told.name}: ${told.summary}`),
    element("thead", {}, element("tr", {}, ...head)),
    element("tbody", {}, ...told.lines.map(row)),
  );
  const remarks = told.remarks.map((words) => element("p", { class: "lk-ag-remark" }, words));
  return element("div", { class: "lk-ag-whole" }, table, ...remarks);
}
