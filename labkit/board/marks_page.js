// The page of a class's marks: the table, a person, an answer, and putting marks right. Each has an
// address of its own behind "?", so that back works and a link leads there.

import { ask } from "./asking.js";
import { element } from "./elements.js";
import { classPage, classPath, problem, signedIn } from "./house.js";
import { showAnswer } from "./marks_answer.js";
import { showPerson } from "./marks_person.js";
import { PutRight } from "./marks_put_right.js";
import { ScoreTable } from "./score_table.js";

const LOOK_AGAIN_MS = 20000;

const old = element("p", { class: "rm-problem", role: "status" });
const place = element("div", { class: "ms-place" });
const table = new ScoreTable();
const putRight = new PutRight();
let turn = 0; // of two answers only that to the last question is shown
let cameFrom = "";
let shownTitle = "";
let person = { said: "", node: element("section") }; // who is shown stays as long as nothing changed

/** @param {string} part @param {Record<string, string>} [words] */
function asked(part, words = {}) {
  return ask(`${classPath()}marks/${part}?${new URLSearchParams(words)}`);
}

function framed(title) {
  if (place.isConnected && (title === "" || title === shownTitle)) return;
  shownTitle = title;
  classPage(title, "marks", old, place);
}

/** What stands behind "?", shown. @param {boolean} [quietly] - nobody asked for it: the focus stays */
async function show(quietly = false) {
  turn += 1;
  const mine = turn;
  const words = Object.fromEntries(new URLSearchParams(location.search));
  try {
    const [title, view] = await viewOf(words);
    if (mine !== turn) return;
    old.textContent = "";
    framed(title);
    if (place.firstChild !== view) place.replaceChildren(view);
    if (!quietly) focusOn(view, words);
  } catch (error) {
    if (mine !== turn) return;
    framed("");
    const back = element("p", {}, element("a", { href: location.pathname }, "‹ All people"));
    if (quietly) old.textContent = `What stands here may be old. ${error.message}`;
    else place.replaceChildren(problem(error.message), back);
  }
}

/** @param {Record<string, string>} words @returns {Promise<[string, HTMLElement]>} */
async function viewOf({ person: who, work, exercise, right, lab }) {
  if (right !== undefined) {
    const told = await asked("corrections");
    putRight.watch();
    return [told.class_title, putRight.shown(told, lab ?? "", exercise ?? "")];
  }
  if (work) {
    const told = await asked("answer", { work, exercise: exercise ?? "" });
    return [told.class_title, showAnswer(told)];
  }
  if (who) {
    const told = await asked("person", { id: who });
    const said = JSON.stringify(told);
    if (said !== person.said) person = { said, node: showPerson(told) };
    return [told.class_title, person.node];
  }
  const told = await asked("table", { seen: table.seen });
  if (!told.same) table.takes(told);
  lookForArrivals();
  return [told.class_title, table.node];
}

/** @param {HTMLElement} view @param {Record<string, string>} words */
function focusOn(view, { person: who, work, right }) {
  if (who || work || right !== undefined) {
    /** @type {HTMLElement | null} */ (view.querySelector("h2"))?.focus();
    scrollTo(0, 0);
  } else if (cameFrom) table.focus(cameFrom);
  cameFrom = who || cameFrom;
}

/** It takes a while, so the table does not wait for it. */
async function lookForArrivals() {
  try {
    table.cameIn(await asked("came-in"));
  } catch {
    // The next look tells it; the table stands without.
  }
}

/** A link to another part of this page needs no new page. @param {MouseEvent} event */
function follow(event) {
  const link = /** @type {Element} */ (event.target).closest?.("a");
  if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
  if (link.pathname !== location.pathname || link.target) return;
  event.preventDefault();
  history.pushState(null, "", link.pathname + link.search);
  show();
}

function again() {
  const words = new URLSearchParams(location.search);
  // What is being written is not torn away: giving it is refused where it is old.
  if (document.hidden || words.has("work") || words.has("right")) return;
  show(true);
}

signedIn(async () => {
  document.addEventListener("click", follow);
  addEventListener("popstate", () => show());
  document.addEventListener("visibilitychange", again);
  setInterval(again, LOOK_AGAIN_MS);
  await show();
});
