// Ways of measuring, played on a network that nobody was given: step by step what is read there, what
// that rules out, and before each step what could be measured.

import { element } from "./elements.js";
import { cautionsOf, head, html } from "./projector_parts.js";

/**
 * @typedef {{ first: string[], words: string, text: string, counted: boolean, before: number, after: number }} Step
 * @typedef {{ first: string[], words: string, text?: string, left?: number | null, taken?: boolean, halving?: boolean }} Choice
 * @typedef {{ words: string, all: number, before: number, left: number }} Sort
 * @typedef {{ words: string, people: { words: string, of: number } | null }} Way
 */

const LETTERS = "ABCD";
const LONG = 40;
const FEW_SORTS = 6;
const HALVING = "by halving";

/** @param {{ first: string[], words: string }} step */
function inWords({ first, words }) {
  return [...(first.length ? [element("span", { class: "rp-first" }, `${first.join(", ")}, then `)] : []), words];
}

/** How many are left of all: what this step ruled out is hatched. @param {number} before @param {number} after @param {number} all */
function leftBar(before, after, all) {
  const part = (name, count) => {
    const made = element("span", { class: name });
    made.style.width = `${(100 * count) / Math.max(all, 1)}%`;
    return made;
  };
  return element("span", { class: "rp-bar", "aria-hidden": "true" }, part("rp-gone", before), part("rp-kept", after));
}

/** What was read; a report is longer than what a meter shows. @param {string} text */
function reading(text) {
  return element("b", { class: text.length > LONG ? "rp-report" : "" }, text);
}

/** A step that was looked at before, in a line. @param {Step} step */
function shortItem({ words, text, counted, before, after }) {
  const count = counted ? `${before} → ${after}` : "";
  return element("li", {}, element("span", { class: "rp-cut" }, words, element("b", {}, ` ${text}`)), element("b", {}, count));
}

/** @param {Step} step @param {number} all */
function stepItem(step, all) {
  const { text, counted, before, after } = step;
  const count = counted ? [leftBar(before, after, all), element("b", {}, before === after ? `${after}` : `${before} → ${after}`)] : [element("span", { class: "rp-first" }, "what it rules out is not worked out")];
  return element("li", {}, element("p", {}, ...inWords(step)), element("p", { class: "rp-read" }, reading(text), element("span", { class: "rp-count" }, ...count)));
}

/** @param {Way} way @param {boolean} [last] - whether this is where it ends */
function wayHead({ words, people }, last = false) {
  const many = people ? element("span", { class: "rp-people" }, `${people.words} of ${people.of}, in this order${last ? ", and no further together" : ""}`) : "";
  return element("h2", {}, `${words} `, many);
}

/** @param {Choice} choice @param {number} at @param {number} all */
function choiceItem(choice, at, all) {
  const { text, left, taken, halving } = choice;
  const made = element("li", { class: taken ? "rp-choice rp-taken" : "rp-choice" }, element("b", { class: "rp-letter" }, LETTERS[at]));
  const told = element("div", {}, element("p", {}, ...inWords(choice)));
  if (text !== undefined) {
    const marks = [...(taken ? ["this way"] : []), ...(halving ? [HALVING] : [])].map((words) => element("span", { class: "rp-mark" }, words));
    const count = left === null || left === undefined ? "not worked out" : `leaves ${left}`;
    told.append(element("p", { class: "rp-read" }, reading(text), ...marks, element("span", { class: "rp-count" }, ...(typeof left === "number" ? [leftBar(left, left, all)] : []), element("b", {}, count))));
  }
  made.append(told);
  return made;
}

/** One square for each possible fault; a sort that is out is struck out. @param {Sort} sort @param {boolean} brief */
function sortRow({ words, all, before, left }, brief) {
  const squares = element("span", { class: "rp-squares", "aria-hidden": "true" });
  for (let at = 0; at < all; at += 1) squares.append(element("i", { class: at < left ? "rp-still" : at < before ? "rp-now" : "rp-out" }));
  return element("li", left ? {} : { class: "rp-struck" }, element("span", {}, words), element("b", {}, left === all ? `${all}` : `${left} of ${all}`), ...(left || !brief ? [squares] : []));
}

/** @param {{ start: number, sorts: Sort[], named?: string[], single: boolean }} shown */
function causes({ start, sorts, named = [], single }) {
  const left = sorts.reduce((sum, sort) => sum + sort.left, 0);
  const seen = sorts.filter(({ before }) => before > 0);
  const out = sorts.length - seen.length;
  const words = left === start ? `${start} single faults are possible` : `${left} of ${start} possible faults left`;
  /** @type {HTMLElement[]} */
  const made = [element("h2", {}, words)];
  if (named.length) made.push(element("ul", { class: "rp-named" }, ...named.map((fault) => element("li", {}, fault))));
  made.push(element("ul", { class: "rp-sorts" }, ...seen.map((sort) => sortRow(sort, named.length > 0))));
  if (out) made.push(element("p", { class: "rp-first" }, out === 1 ? "One sort was ruled out before." : `${out} sorts were ruled out before.`));
  if (!single) made.push(element("p", { class: "rp-first" }, "Several faults are in this bench at once: the count fits only in part."));
  return element("section", { class: "rp-causes" }, ...made);
}

function start(shown) {
  const measured = shown.measured ? `Drawn from ${shown.measured} benches; no way of a single one is shown.` : "Fewer than 5 have measured here: no way of the class is shown.";
  const asked = element("div", {}, html(shown.question, "rp-question"), html(shown.drawing, "rp-drawing"), element("p", { class: "rp-first" }, measured));
  return [element("div", { class: "rp-two" }, asked, causes(shown))];
}

/** While a class thinks it sees the network, and then what is ruled out. */
function along(shown) {
  const { way, path, choices, at, last, sorts, start: all } = shown;
  const drawing = html(shown.drawing, "rp-drawing");
  /** @type {HTMLElement[]} */
  const left = [wayHead(way, last)];
  if (choices.length) {
    // What the last step showed stands among what could be measured.
    const before = at === "ask" ? path : path.slice(0, -1);
    left.push(element("ol", { class: "rp-path rp-short" }, ...before.map(shortItem)));
    left.push(element("h2", { class: at === "ask" ? "rp-ask" : "" }, at === "ask" ? "What would you measure next?" : "What each of them shows here"));
    left.push(element("ol", { class: "rp-choices" }, ...choices.map((choice, number) => choiceItem(choice, number, all))));
  } else left.push(element("ol", { class: "rp-path" }, ...path.map((step) => stepItem(step, all))));
  const count = path.length ? `${path[path.length - 1].after} of ${all} possible faults left` : `${all} single faults are possible`;
  const few = sorts.filter(({ before }) => before > 0).length <= FEW_SORTS;
  const right = at === "ask" ? [element("h2", {}, count), drawing] : [causes(shown), ...(few ? [drawing] : [])];
  return [element("div", { class: "rp-two" }, element("div", { class: "rp-way" }, ...left), element("div", { class: at === "ask" ? "" : "rp-told" }, ...right))];
}

function together({ ways, start: all }) {
  const columns = ways.map((way) =>
    element(
      "section",
      { class: "rp-way" },
      wayHead(way),
      element("ol", { class: "rp-path" }, ...way.steps.map((step) => stepItem(step, all))),
      element("p", { class: "rp-sum" }, `${way.steps.at(-1).after} of ${all} left · ${way.minutes} min at the bench`),
    ),
  );
  const made = element("div", { class: "rp-together" }, ...columns);
  made.style.setProperty("--ways", String(columns.length));
  return [made];
}

const FRAMES = { start, ask: along, step: along, together };

export function replay(shown) {
  const { lab, number, title, refused, waits, at, cautions } = shown;
  const top = head(lab, `${number}. ${title}`, "A network that nobody was given");
  if (refused || waits) return [top, element("p", { class: "pj-large" }, refused || "The bench is being played beforehand …")];
  return [top, ...FRAMES[at](shown), ...cautionsOf(cautions)];
}
