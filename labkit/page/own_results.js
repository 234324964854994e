// Results, once they are released: the marks of each exercise, what a mistake means, the working; the sum.

import { element } from "./elements.js";
import { STATES, stateOf } from "./exercise_state.js";
import { marksText } from "./hints.js";
import { html } from "./reading.js";

/**
 * @typedef {object} Mark
 * @property {string} exercise
 * @property {string} state
 * @property {number} earned
 * @property {number} possible
 * @property {string} answer
 * @property {number} tries
 * @property {number} hints
 * @property {number} hint_cost
 * @property {string} marked_by
 * @property {string} note
 * @property {string} message - HTML
 * @property {string} right
 * @property {string} working - HTML
 * @property {string[]} told
 *
 * What `GET marks` says.
 * @typedef {object} Results
 * @property {string} workbook
 * @property {string} handed_in
 * @property {string} with_whom
 * @property {boolean} late
 * @property {number} earned
 * @property {number} marked
 * @property {string} percent
 * @property {string} waits
 * @property {Mark[]} exercises
 */

const plainNumber = (value) => String(Number(value.toFixed(2)));

/** @param {Mark} mark */
export function earnedWords({ state, earned, possible }) {
  if (state === "voided") return "";
  return `${state === "waits" ? "–" : plainNumber(earned)} of ${marksText(possible)}`;
}

/** As short as it must be in the list. @param {Mark} mark */
export function earnedShort({ state, earned, possible }) {
  if (state === "voided") return "";
  return `${state === "waits" ? "–" : plainNumber(earned)}/${plainNumber(possible)}`;
}

/** The result of an exercise, for the place below its question. @param {Mark} mark */
export function resultBox(mark) {
  const state = stateOf({ answered: false, verdict: null }, mark);
  const { sign, words } = STATES[state];
  const node = element("section", { class: "pg-result", "aria-label": "Your result", "data-state": state });
  const head = element("strong", {}, `${sign} ${words[0].toUpperCase()}${words.slice(1)}`);
  node.append(element("p", {}, head, ...[earnedWords(mark), tryWords(mark)].filter(Boolean).map((each) => ` · ${each}`)));
  if (mark.marked_by) node.append(element("p", {}, `Marked by ${mark.marked_by}${mark.note ? `: ${mark.note}` : ""}.`));
  if (mark.message) node.append(html(mark.message));
  const pairs = [["Your answer", mark.answer || "–"]];
  if (mark.right) pairs.push(["A right answer", mark.right]);
  node.append(element("dl", {}, ...pairs.flatMap(([name, text]) => [element("dt", {}, name), element("dd", {}, text)])));
  if (mark.told.length) node.append(unfolding("What each step told", mark.told.map((line) => element("p", {}, line.trim()))));
  if (mark.working) node.append(unfolding("The working, with your numbers", [html(mark.working)], true));
  return node;
}

/** @param {Mark} mark */
function tryWords({ tries, hints, hint_cost: cost }) {
  const said = tries > 1 ? [`${tries} tries`] : [];
  if (hints) said.push(`${hints} hint${hints > 1 ? "s" : ""}${cost ? ` (−${plainNumber(cost)})` : ""}`);
  return said.join(", ");
}

/** @param {string} heading @param {Node[]} content @param {boolean} [open] */
function unfolding(heading, content, open = false) {
  return element("details", { open }, element("summary", {}, heading), ...content);
}

/** The sum, for the last place. @param {Results} results @param {boolean} ofThis - of the workbook on this page */
export function sumBox({ earned, marked, percent, waits, handed_in: at, with_whom: pair, late }, ofThis) {
  const heading = element("h2", { id: "pg-results" }, "Your results");
  const node = element("section", { class: "pg-results", "aria-labelledby": heading.id }, heading);
  const sum = `${plainNumber(earned)} of ${marksText(marked)} (${percent} %)${waits ? " so far" : ""}`;
  if (marked) node.append(element("p", { class: "pg-sum" }, sum));
  if (waits) node.append(element("p", {}, `${waits} for your instructor.`));
  node.append(element("p", { class: "pg-aside" }, `Handed in ${at}${pair && ` ${pair}`}${late ? ", late" : ""}.`));
  if (!ofThis) node.append(element("p", {}, "They are of your other attempt at this lab, with other numbers than on this page."));
  const whole = element("a", { href: "results", target: "_blank" }, "All of it on one page, to read or to print");
  node.append(element("p", {}, whole));
  return node;
}
