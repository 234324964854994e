// One person: each lab, each exercise, how it stands, with the way to the answer.

import { element } from "./elements.js";
import { plain, prose } from "./keeping.js";
import { passing } from "./score_table.js";

/** A sign and a word for how an exercise stands. */
export const STATES = {
  right: ["✓", "right"],
  partly: ["◐", "partly right"],
  wrong: ["✗", "wrong"],
  blank: ["–", "no answer"],
  waits: ["◔", "waits for a mark by hand"],
  voided: ["⊘", "taken out of the marks"],
};

export function stateOf(state) {
  const [sign, word] = STATES[state];
  return element("span", { class: `ms-state ms-${state}` }, element("span", { "aria-hidden": "true" }, `${sign} `), word);
}

/** A known mistake, as the lab's author has it. @param {string} html */
export function mistakeOf(html) {
  return element("div", { class: "ms-mistake" }, element("b", {}, "Known mistake"), prose("div", {}, html));
}

function times(number, one, many) {
  return number ? `${number} ${number === 1 ? one : many}` : "";
}

function exerciseRow(person, lab, each) {
  const search = new URLSearchParams({ person, work: lab.work, exercise: each.exercise });
  const facts = [times(each.tries, "try", "tries"), times(each.hints, "hint", "hints"), each.marked_by && `marked by ${each.marked_by}`];
  const said = facts.filter(Boolean).join(" · ");
  return element(
    "li",
    { class: "ms-exercise" },
    element("a", { href: `?${search}` }, `${each.number}. ${each.title}`),
    element("span", { class: "ms-worth" }, each.state === "waits" ? `${plain(each.possible)} marks` : `${plain(each.earned)} of ${plain(each.possible)}`),
    element("span", {}, stateOf(each.state), said ? element("span", { class: "rm-quiet" }, ` · ${said}`) : ""),
    ...(each.mistake ? [mistakeOf(each.mistake)] : []),
  );
}

function sumOf(lab) {
  if (!lab.handed_in) return "Nothing that counts was handed in.";
  const known = lab.marked ? `${plain(lab.earned)} of ${plain(lab.marked)} marks, ${lab.percent} %` : "nothing is marked yet";
  return [known, lab.waits].filter(Boolean).join("; ");
}

function labSection(person, lab) {
  const attempt = lab.attempts > 1 ? [`attempt ${lab.attempt} of ${lab.attempts}, ${lab.counts ? "which counts" : "which does not count"}`] : [];
  const beside = [...attempt, lab.with_whom].filter(Boolean).join(" · ");
  const more = [lab.hand_in, lab.rules, ...lab.decisions].filter(Boolean);
  return element(
    "section",
    { class: "hs-box ms-lab" },
    element("h3", {}, lab.title),
    ...(beside ? [element("p", {}, beside)] : []),
    element("p", {}, element("b", {}, sumOf(lab))),
    element("ul", { class: "ms-exercises" }, ...lab.exercises.map((each) => exerciseRow(person, lab, each))),
    ...(more.length ? [element("details", {}, element("summary", {}, "Which hand-in, and what was decided"), ...more.map((line) => element("p", { class: "rm-quiet" }, line)))] : []),
  );
}

/** @param {any} told */
export function showPerson(told) {
  const whole = told.labs.length > 1 && told.percent ? [`${told.percent} % in the whole class`] : [];
  return element(
    "section",
    {},
    element("p", {}, element("a", { class: "ms-back", href: location.pathname }, "‹ All people")),
    element("h2", { tabindex: -1 }, `${told.name} (${told.id})`),
    element("p", {}, ...whole, ...(told.pass_mark === null ? [] : [whole.length ? " · " : "", ...passing(told.passed, told.open)])),
    ...told.notices.map((line) => element("p", { class: "ms-notice" }, `! ${line}`)),
    ...told.labs.map((lab) => labSection(told.id, lab)),
  );
}
