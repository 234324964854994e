// The projector's page: what the trainer chose to show. It knows of nobody, and has nothing to press.

import { ask } from "./asking.js";
import { element } from "./elements.js";
import { cautionsOf, head, html } from "./projector_parts.js";
import { replay } from "./replay.js";

const LOOK_AGAIN_MS = 2000;
const A_SCREEN = 0.8;

/** Words and shapes of how an exercise stands: none is told by colour alone. */
const STATES = {
  right: { shape: "✓", words: "right" },
  partly: { shape: "◐", words: "partly right" },
  saved: { shape: "●", words: "saved, not right yet" },
  open: { shape: "○", words: "open" },
};
const SAVED_ONLY = { ...STATES, saved: { shape: "●", words: "saved" } };

/**
 * @typedef {{ words: string, drawn: number }} People
 * @typedef {{ number: number, title: string, answer: string, words: string, other?: boolean, people: People | null, of: number }} Mistake
 */

const place = element("main", { class: "pj-page" });
const trouble = element("p", { class: "pj-trouble", role: "status" });

function classAndAddress({ class_title, address, square }) {
  return [
    element(
      "section",
      { class: "pj-way-in" },
      element("h1", {}, class_title),
      element("p", { class: "pj-above" }, "Open in a browser, then type the six characters of your card:"),
      element("p", { class: "pj-address" }, address),
      html(square, "pj-square"),
    ),
  ];
}

// How far the class is

/** @param {People & { state: string }} part @param {Record<string, { shape: string, words: string }>} words */
function segment({ state, words: count, drawn }, words) {
  const short = count.replace("fewer than ", "<").replace(/ or more$/, "+");
  const made = element(
    "span",
    { class: "pj-part", "data-state": state },
    element("span", { "aria-hidden": "true" }, `${words[state].shape} ${short}`),
    element("span", { class: "pj-spoken" }, `${count}: ${words[state].words}. `),
  );
  made.style.flexGrow = String(drawn);
  return made;
}

function exerciseRow({ number, title, parts }, words) {
  const bar = parts
    ? parts.filter(({ drawn }) => drawn).map((part) => segment(part, words))
    : [element("span", { class: "pj-part" }, "too few to tell apart")];
  return element(
    "li",
    {},
    element("span", { class: "pj-number" }, String(number)),
    element("span", { class: "pj-title" }, title),
    element("span", { class: "pj-bar" }, ...bar),
  );
}

function progress({ lab, told, people, exercises }) {
  if (!people) return [head("How far we are", lab), element("p", { class: "pj-large" }, "Fewer than 5 are at work: nothing is counted.")];
  const words = told ? STATES : SAVED_ONLY;
  const shown = told ? ["right", "partly", "saved", "open"] : ["saved", "open"];
  const legend = shown.map((state) =>
    element("span", { class: "pj-key", "data-state": state }, `${words[state].shape} ${words[state].words}`),
  );
  return [
    head("How far we are", lab, `${people} at work`),
    element("ol", { class: "pj-exercises" }, ...exercises.map((one) => exerciseRow(one, words))),
    element("p", { class: "pj-legend" }, ...legend, element("span", {}, "<3 fewer than 3"), element("span", {}, "8+ eight or more")),
  ];
}

// Known mistakes

/** @param {Mistake} mistake @param {boolean} large @param {boolean} [titled] */
function mistakeItem({ number, title, answer, words, other, people, of }, large, titled = true) {
  const made = element("li", { class: large ? "pj-mistake pj-first" : "pj-mistake" });
  if (people) made.append(element("p", { class: "pj-count" }, element("b", {}, people.words), ` of ${of}`));
  const told = element("div", { class: "pj-told" });
  if (titled) told.append(element("p", { class: "pj-above" }, `${number}. ${title}`));
  if (!titled && answer) told.append(html(answer, "pj-wrong"));
  told.append(html(words, "pj-words"));
  if (!titled && other) told.append(element("p", { class: "pj-other" }, "(told with other numbers: with these it cannot be made)"));
  made.append(told);
  return made;
}

function debrief({ lab, people, first, more }) {
  if (!people) return [head("What is misunderstood", lab), element("p", { class: "pj-large" }, "Fewer than 5 have answered: nothing is counted.")];
  const found = [];
  if (first.length) found.push(element("h2", {}, "Worth another look first"), element("ol", { class: "pj-mistakes" }, ...first.map((one) => mistakeItem(one, true))));
  if (more.length) found.push(element("h2", {}, "Also"), element("ol", { class: "pj-mistakes pj-also" }, ...more.map((one) => mistakeItem(one, false))));
  if (!found.length) found.push(element("p", { class: "pj-large" }, "No known mistake was made."));
  return [head("What is misunderstood", lab, `${people} have answered`), ...found];
}

// An exercise with its working

/** A place to answer, without the rows that are there to be written in. @param {string} text */
function answerPlace(text) {
  const made = html(text, "pj-place");
  for (const row of made.querySelectorAll("tbody tr")) if (!row.textContent?.trim()) row.remove();
  for (const table of made.querySelectorAll("table")) if (!table.querySelector("tbody tr")) table.remove();
  return made;
}

function uncovered({ mistakes, right, working }) {
  const found = [];
  // What is right takes the place of what is not.
  if (mistakes && !right) {
    const made = mistakes.map((one) => mistakeItem(one, false, false));
    found.push(element("h2", {}, "Known mistakes"), made.length ? element("ul", { class: "pj-mistakes" }, ...made) : element("p", {}, "No known mistake was made."));
  }
  if (right) found.push(element("h2", {}, "A right answer"), html(right, "pj-right"));
  if (working.length) {
    const steps = working.map((step) => element("li", {}, html(step, "")));
    found.push(element("h2", {}, "Working"), element("ol", { class: "pj-working" }, ...steps));
  }
  return found;
}

function exercise(shown) {
  const { lab, number, title, refused, picture, texts, cautions } = shown;
  if (refused) return [head(lab, `${number}. ${title}`), element("p", { class: "pj-large" }, refused)];
  const question = html(shown.question, "pj-question");
  // Nobody can press here.
  for (const fold of question.querySelectorAll("details")) fold.open = true;
  const found = uncovered(shown);
  if (!shown.right && !shown.working.length) found.unshift(answerPlace(shown.place));
  const drawing = picture ? [html(picture, "pj-picture")] : [];
  const read = texts.map((text) => html(text.html, "pj-text"));
  const beside = picture && shown.step > 0;
  // Without a drawing the numbers stand in the texts alone.
  const first = picture ? [] : read;
  const asked = beside ? [question, ...found] : [question, ...first, ...found, ...drawing, ...(picture ? read : [])];
  return [
    head(lab, `${number}. ${title}`, "Numbers that nobody was given"),
    element(
      "div",
      { class: beside ? "pj-exercise pj-drawn" : "pj-exercise" },
      ...(beside ? [element("div", {}, ...drawing, ...read)] : []),
      element("div", { class: "pj-asked" }, ...asked),
    ),
    ...cautionsOf(cautions),
  ];
}

const VIEWS = { class: classAndAddress, progress, debrief, exercise, replay };

/** What was shown before, to see what came to it. @type {{ view?: string, lab?: string, number?: number, down?: number }} */
let last = {};
let before = "";

function show(shown) {
  const same = shown.view === last.view && shown.lab === last.lab && shown.number === last.number;
  place.dataset.view = shown.view;
  place.replaceChildren(...VIEWS[shown.view](shown));
  if (!same || shown.down !== last.down) window.scrollTo(0, shown.down * A_SCREEN * window.innerHeight);
  // What was uncovered just now must be seen.
  else if (shown.view === "exercise" && shown.working.length) place.querySelector(".pj-working > :last-child")?.scrollIntoView({ block: "nearest" });
  place.dataset.down = String(shown.down);
  last = shown;
}

async function look() {
  const shown = await ask("projector/now");
  trouble.textContent = "";
  const text = JSON.stringify(shown);
  if (text === before) return;
  before = text;
  show(shown);
}

async function keepLooking() {
  try {
    await look();
  } catch (error) {
    // A page that lost the room for a moment goes on by itself; one of an earlier opening needs the new link.
    trouble.textContent = error.status === 403 ? error.message : "The room does not answer. This page goes on by itself when it does.";
  }
  setTimeout(keepLooking, LOOK_AGAIN_MS);
}

async function begin() {
  document.body.replaceChildren(place, trouble);
  const key = decodeURIComponent(location.hash.slice(1));
  history.replaceState(null, "", location.pathname);
  if (key) await ask("projector/sign-in", { key }).catch(() => null);
  keepLooking();
}

begin();
