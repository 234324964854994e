// The projector's page: what the trainer chose to show. It knows of nobody, and has nothing to press.

import { ask } from "./asking.js";
import { element } from "./elements.js";

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
 * @typedef {{ number: number, title: string, answer: string, words: string, people: People | null, of: number }} Mistake
 */

const place = element("main", { class: "pj-page" });
const trouble = element("p", { class: "pj-trouble", role: "status" });

/** HTML that the room made of a lab's text. @param {string} text @param {string} name */
function html(text, name) {
  const node = element("div", { class: name });
  node.innerHTML = text;
  return node;
}

/** @param {string} above @param {string} title @param {string} [beside] */
function head(above, title, beside = "") {
  return element(
    "header",
    { class: "pj-head" },
    element("div", {}, element("p", { class: "pj-above" }, above), element("h1", {}, title)),
    element("p", { class: "pj-beside" }, beside),
  );
}

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
function mistakeItem({ number, title, answer, words, people, of }, large, titled = true) {
  const made = element("li", { class: large ? "pj-mistake pj-first" : "pj-mistake" });
  if (people) made.append(element("p", { class: "pj-count" }, element("b", {}, people.words), ` of ${of}`));
  const told = element("div", { class: "pj-told" });
  if (titled) told.append(element("p", { class: "pj-above" }, `${number}. ${title}`));
  if (!titled && answer) told.append(html(answer, "pj-wrong"));
  told.append(html(words, "pj-words"));
  made.append(told);
  return made;
}

function debrief({ lab, people, first, more }) {
  if (!people) return [head("What is misunderstood", lab), element("p", { class: "pj-large" }, "Fewer than 5 have answered: nothing is counted.")];
  const found = [];
  if (first.length) found.push(element("h2", {}, "Worth another look first"), element("ol", { class: "pj-mistakes" }, ...first.map((one) => mistakeItem(one, true))));
  if (more.length) found.push(element("h2", {}, "Also"), element("ol", { class: "pj-mistakes" }, ...more.map((one) => mistakeItem(one, false))));
  if (!found.length) found.push(element("p", { class: "pj-large" }, "No known mistake was made."));
  return [head("What is misunderstood", lab, `${people} have answered`), ...found];
}

// An exercise with its working

function caution(text) {
  return html(text, "pj-caution");
}

function exercise(shown) {
  const { lab, number, title, refused } = shown;
  if (refused) return [head(lab, `${number}. ${title}`), element("p", { class: "pj-large" }, refused)];
  const asked = [...shown.cautions.map(caution), html(shown.question, "pj-question"), ...shown.texts.map((text) => html(text.html, "pj-text"))];
  if (!shown.right) asked.push(html(shown.place, "pj-place"));
  if (shown.mistakes) {
    asked.push(element("h2", {}, "Known mistakes"));
    asked.push(
      shown.mistakes.length
        ? element("ul", { class: "pj-mistakes" }, ...shown.mistakes.map((one) => mistakeItem(one, false, false)))
        : element("p", {}, "No known mistake was made."),
    );
  }
  if (shown.right) asked.push(element("h2", {}, "Right"), html(shown.right, "pj-right"));
  if (shown.working.length) {
    asked.push(element("h2", {}, "Working"), element("ol", { class: "pj-working" }, ...shown.working.map((step) => element("li", {}, html(step, "")))));
  }
  const drawn = shown.picture ? [html(shown.picture, "pj-picture")] : [];
  return [
    head(lab, `${number}. ${title}`, "Numbers that nobody was given"),
    element("div", { class: drawn.length ? "pj-exercise pj-drawn" : "pj-exercise" }, ...drawn, element("div", { class: "pj-asked" }, ...asked)),
  ];
}

const VIEWS = { class: classAndAddress, progress, debrief, exercise };

/** What was shown before, to see what came to it. @type {{ view?: string, lab?: string, number?: number, down?: number }} */
let last = {};
let before = "";

function show(shown) {
  const same = shown.view === last.view && shown.lab === last.lab && shown.number === last.number;
  place.dataset.view = shown.view;
  place.replaceChildren(...VIEWS[shown.view](shown));
  if (!same || shown.down !== last.down) window.scrollTo(0, shown.down * A_SCREEN * window.innerHeight);
  // What was uncovered just now must be seen.
  else if (shown.view === "exercise") place.querySelector(".pj-asked > :last-child > :last-child")?.scrollIntoView({ block: "nearest" });
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
