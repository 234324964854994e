// The debrief of a class: what to teach again, who needs a word, whether the lab is at fault; the test after.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPage, classPath, problem, signedIn, WorkShown } from "./house.js";

/** The words of each page that scoring writes. */
const PAGES = {
  "debrief.html": "To print or to show: names nobody",
  "analysis.html": "All figures, and hand-ins to look at",
  "gain.html": "Before and after: the client's page",
};
const LOOK_AGAIN_MS = 30000;

const since = element("p", { class: "db-since", role: "status" });
const wrong = element("div");
const work = new WorkShown(() => show());

/** HTML that scoring made of a lab's own words, or a picture. @param {string} text @param {string} name */
function html(text, name) {
  const node = element("div", { class: name });
  node.innerHTML = text;
  return node;
}

/** What is wider than a small screen scrolls by keys too. @param {HTMLElement} node */
function wide(node) {
  node.tabIndex = 0;
  node.setAttribute("role", "group");
  node.setAttribute("aria-label", "The exercises, drawn");
  return node;
}

function fold(words, ...children) {
  return element("details", { class: "db-fold" }, element("summary", {}, words), ...children);
}

const quiet = (words) => element("p", { class: "rm-quiet" }, words);

function taught(one) {
  return element(
    "li",
    {},
    ...(one.told ? [html(one.told, "db-told")] : []),
    element("p", {}, element("b", {}, `${one.number}. ${one.title}`), `: ${one.sentence} `, element("span", { class: "rm-quiet" }, one.sure)),
    element("p", {}, `→ ${one.do}`),
  );
}

function again({ teach }) {
  const list = teach.length
    ? element("ol", { class: "db-again" }, ...teach.map(taught))
    : element("p", {}, "No mistake was made often, and every exercise earned most of its marks.");
  return element("section", {}, element("h3", {}, "What to teach again"), list);
}

function word({ about, people, sentence, pair }) {
  const said = sentence && ` (${sentence})`;
  return element("p", {}, element("b", {}, about), pair ? `: ${sentence}` : `: ${people.join(", ")}${said}.`);
}

function words({ see }) {
  const pairs = see.some((one) => one.pair);
  return element(
    "section",
    {},
    element("h3", {}, "Who needs a word"),
    ...(see.length ? see.map(word) : [element("p", {}, "Nobody: all is handed in and marked, and no two hand-ins are more alike than chance allows.")]),
    ...(pairs ? [quiet("A reason to talk, never a verdict: who worked together where it was allowed, or was taught the same wrong thing, looks just the same.")] : []),
  );
}

function fault({ faults, no_fault }) {
  return element(
    "section",
    {},
    element("h3", {}, "Is the lab itself at fault?"),
    ...(faults.length ? faults : [no_fault]).map((line) => element("p", {}, line)),
  );
}

function mistake(one) {
  return element("li", {}, element("b", {}, `${one.count} of ${one.of}`), ` in ${one.number}. ${one.title}`, html(one.told, "db-words"));
}

function mistakes({ mistakes: made, more_mistakes: more }) {
  if (!made.length) return fold("Known mistakes", element("p", {}, "No known mistake was made."));
  const rest = more ? ` ${more} rarer mistakes are in the analysis.` : "";
  return fold(
    "Known mistakes, most frequent first",
    element("ol", { class: "db-mistakes" }, ...made.map(mistake)),
    quiet(`In the lab author's words, as one of them read it: numbers in it are that trainee's own.${rest}`),
  );
}

function lab(one) {
  const facts = one.facts.map(([what, figure]) => element("div", {}, element("dt", {}, what), element("dd", {}, figure)));
  const known = one.well_known.length ? [quiet(`Sits well already: ${one.well_known.join("; ")}.`)] : [];
  return element(
    "section",
    { class: "db-lab" },
    element("div", { class: "db-head" }, element("h2", {}, one.title), element("dl", { class: "db-facts" }, ...facts)),
    element("div", { class: "db-two" }, again(one), element("div", {}, words(one), fault(one))),
    fold(
      "How to do it, and how sure this is",
      element("p", {}, one.how),
      quiet(
        "A mistake stands here in the lab author's words, as one of them read it: numbers in it are that trainee's own. “Among many people” is a 95 % interval: 19 times out of 20 a range that is worked out like this holds the share that many people would show who were taught like these.",
      ),
      ...known,
    ),
    fold("Results: how they are spread", html(one.results, "db-figure db-narrow"), ...one.results_notes.map(quiet)),
    fold("Exercises: marks earned, and the time they took", wide(html(one.exercises, "db-figure db-wide")), ...one.exercises_notes.map(quiet)),
    mistakes(one),
  );
}

// The test before and after

function people(count) {
  return count === 1 ? "one person" : `${count} people`;
}

function test(one, now) {
  const told = now.debrief?.twice.find((each) => each.lab === one.lab);
  const box = element("section", { class: "db-lab" }, element("h2", {}, `${one.title}: before and after`));
  if (one.wrong.length) box.append(problem(one.wrong.join("\n")));
  if (told) {
    box.append(element("p", {}, told.sentence));
    if (told.left_out.length) box.append(element("p", {}, `Not in these figures: ${told.left_out.join("; ")}.`));
    for (const [names, what] of [[told.only_before, "Only the test before"], [told.only_after, "Only the test after"]])
      if (names.length) box.append(element("p", {}, element("b", {}, what), `: ${names.join(", ")}.`));
  }
  if (one.left) box.append(after(one));
  else if (!one.wrong.length && one.dealt) box.append(quiet("Everybody who has the test before is dealt the test after."));
  box.append(quiet(now.counts));
  return box;
}

function after(one) {
  const missing = one.without
    ? `Of these ${people(one.without)} handed in no test before that came in: they would have nothing to be compared with, and in the room their first one is closed.`
    : "All of these handed in the test before.";
  const go = button(`Deal the test after to ${people(one.left)}`, () => act("debrief/deal-after", { lab: one.lab, people: one.left }), { class: "rm-button" });
  return element(
    "div",
    { class: "db-act" },
    element("p", {}, `The test after has other numbers and is drawn to be as hard. ${missing}`),
    go,
  );
}

// Scoring, and the page

async function act(path, said) {
  wrong.replaceChildren();
  await work.begin(path, said);
}

function scored(now) {
  if (!now.dealt) return element("p", {}, "Nothing is dealt yet.");
  const press = button(now.debrief ? "Score again" : "Score what came in", () => act("hand-ins/score", {}), { class: "rm-button rm-small" });
  const when = now.debrief ? `Scored ${now.scored}.` : "Not scored yet, or by an earlier labkit: score it, then the debrief stands here.";
  return element("div", { class: "db-top" }, element("p", {}, when), press);
}

/** Says what came in since; a page that is left open goes on asking. */
async function lookAgain(now) {
  if (!now.debrief) return;
  try {
    const told = await ask(`${classPath()}debrief/since`);
    const lines = [
      told.new && `${told.new === 1 ? "One hand-in" : `${told.new} hand-ins`} came in since`,
      told.changed && "marks or records changed since",
    ].filter(Boolean);
    since.textContent = lines.length ? `${lines.join(", and ")}: score again, what stands below is older.` : "";
  } catch (error) {
    since.textContent = `Whether this is still so cannot be told: ${error.message}`;
  }
}

async function show() {
  const now = await ask(`${classPath()}debrief/now`);
  const links = now.pages.map((page) => element("li", {}, element("a", { href: `${classPath()}debrief/${page}`, target: "_blank", rel: "noopener" }, PAGES[page])));
  const labs = now.debrief?.labs ?? [];
  classPage(
    now.title,
    "debrief",
    element(
      "div",
      { class: "db-page" },
      scored(now),
      since,
      wrong,
      work.node,
      ...(links.length ? [element("ul", { class: "db-links" }, ...links)] : []),
      ...(now.debrief && !labs.length ? [element("p", {}, "Nobody has handed in yet.")] : []),
      ...labs.map(lab),
      ...now.tests.map((one) => test(one, now)),
    ),
  );
  await work.watch(now.work);
  await lookAgain(now);
  shown = now.debrief?.scored_at;
}

/** @type {string | undefined} */
let shown;

/** A page left open shows what was scored meanwhile. */
async function comeBack() {
  if (document.hidden || work.watching) return;
  try {
    const now = await ask(`${classPath()}debrief/now`);
    if (now.debrief?.scored_at !== shown) await show();
    else await lookAgain(now);
  } catch (error) {
    since.textContent = `This page may be old: ${error.message}`;
  }
}

signedIn(async () => {
  await show();
  setInterval(comeBack, LOOK_AGAIN_MS);
  document.addEventListener("visibilitychange", comeBack);
});
