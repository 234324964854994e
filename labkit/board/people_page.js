// The people of a class: who they are, what they were dealt, and what is done with some of them.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPage, classPath, problem, signedIn, WorkShown } from "./house.js";
import { lateForm } from "./people_late.js";
import { paperBox } from "./people_paper.js";

const A_PIECE = 100;
const MOST_TOLD = 40;

/** The class as it was told last. @type {any} */
let now;
const chosen = new Set();
let shownRows = A_PIECE;

const said = element("div");
const acting = element("div");
const facts = element("p");
const remarks = element("div");
const late = element("div");
const paper = element("div");
const rows = element("tbody");
const more = element("p");
const found = element("p", { class: "rm-quiet", role: "status" });
const all = element("input", { type: "checkbox" });
const filter = element("input", { class: "rm-input pp-filter", type: "search", autocomplete: "off", placeholder: "Name, id, bench or seat", "aria-label": "Find people" });
const withChosen = element("div", { class: "pp-chosen", hidden: true });
const head = element("tr");

const work = new WorkShown(async (told) => {
  acting.replaceChildren();
  if (told.said) tell(told.said, told.lines, told.more);
  if ("new" in told) tell(`${told.new} dealt, ${told.kept} were dealt already.`, [], told.told);
  await look();
  if (told.printed && now.can_pdf) begin("people/pdf", { what: told.printed });
});

/** Begin long work, where its progress is seen. @param {string} path @param {object} what */
function begin(path, what) {
  said.replaceChildren();
  const done = work.begin(path, what);
  work.node.scrollIntoView({ block: "nearest" });
  return done;
}

const listOf = (lines) => element("ul", { class: "hs-list" }, ...lines.map((line) => element("li", {}, line)));

/** Tell what was done. @param {string} words @param {string[]} [lines] @param {string[]} [more] - folded */
function tell(words, lines = [], more = []) {
  const folded = element("details", { class: "pp-fold" }, element("summary", {}, "How the numbers came out"), listOf(more));
  said.replaceChildren(element("p", { class: "pp-said", role: "status" }, words), ...(lines.length ? [listOf(lines)] : []), ...(more.length ? [folded] : []));
  said.scrollIntoView({ block: "nearest" });
}

function refused(error) {
  said.replaceChildren(problem(error.message));
  said.scrollIntoView({ block: "nearest" });
}

function several(number, one, many) {
  return `${number} ${number === 1 ? one : many}`;
}

function titleOf(lab) {
  return now.labs.find((each) => each.id === lab)?.title ?? lab;
}

// Who

function whatIsDealt(person) {
  const missing = now.labs.filter((_, at) => !person.dealt[at]);
  const again = now.labs.flatMap((lab, at) => (person.dealt[at] > 1 ? [`${lab.title}: attempt ${person.dealt[at]}`] : []));
  if (missing.length === now.labs.length) return "○ not dealt yet";
  const dealt = missing.length ? `◐ not yet ${missing.map((lab) => lab.title).join(", ")}` : "● dealt";
  return [dealt, ...again].join("; ");
}

function matching() {
  const words = filter.value.trim().toLowerCase().split(/\s+/);
  return now.people.filter((person) => {
    const text = `${person.name} ${person.id} ${person.bench} ${person.seat}`.toLowerCase();
    return words.every((each) => text.includes(each));
  });
}

const seated = () => ["bench", "seat"].filter((column) => now.people.some((person) => person[column]));

function row(person) {
  const box = element("input", { type: "checkbox", "aria-label": `Choose ${person.name}`, "data-id": person.id });
  box.checked = chosen.has(person.id);
  box.addEventListener("change", () => choose([person], box.checked));
  const seats = seated().map((column) => element("td", {}, person[column]));
  return element("tr", {}, element("td", {}, box), element("th", { scope: "row" }, person.name), element("td", {}, person.id), ...seats, element("td", {}, whatIsDealt(person)));
}

function list() {
  const people = matching();
  const columns = ["Name", "Id", ...seated().map((column) => (column === "bench" ? "Bench" : "Seat")), "Workbooks"];
  head.replaceChildren(element("td"), ...columns.map((words) => element("th", { scope: "col" }, words)));
  rows.replaceChildren(...people.slice(0, shownRows).map(row));
  all.checked = people.length > 0 && people.every((person) => chosen.has(person.id));
  const left = people.length - shownRows;
  found.textContent = people.length === now.people.length ? "" : `${several(people.length, "is", "are")} found of ${now.people.length}`;
  const next = () => {
    const from = shownRows;
    shownRows += A_PIECE;
    list();
    rows.querySelectorAll("input")[from]?.focus();
  };
  more.replaceChildren(...(left > 0 ? [button(`Show ${Math.min(left, A_PIECE)} more of ${left}`, next, { class: "rm-link" })] : []));
}

function choose(people, on) {
  for (const person of people) on ? chosen.add(person.id) : chosen.delete(person.id);
  for (const box of rows.querySelectorAll("input")) box.checked = chosen.has(box.dataset.id);
  all.checked = matching().every((person) => chosen.has(person.id));
  acting.replaceChildren();
  showChosen();
}

filter.addEventListener("input", () => {
  shownRows = A_PIECE;
  list();
});
all.addEventListener("change", () => choose(matching(), all.checked));

// What is done with those who are chosen

function showChosen() {
  const people = now.people.filter((person) => chosen.has(person.id));
  withChosen.hidden = !people.length;
  if (!people.length) return;
  const one = people.length === 1 ? people[0] : null;
  const labs = element("select", { class: "rm-select", "aria-label": "Which lab" }, element("option", { value: "" }, "every lab"), ...now.labs.map((lab) => element("option", { value: lab.id }, lab.title)));
  withChosen.replaceChildren(
    element("b", {}, one ? one.name : `${people.length} people`),
    element("span", { class: "pp-together" }, button("Retake …", () => lookAtRetake(people, labs.value), { class: "rm-button rm-small" }), labs),
    ...(one ? [button("Another id …", () => askForId(one.id, one.name), { class: "rm-link" })] : []),
    ...(one?.handout ? [element("a", { class: "rm-link", href: `${classPath()}people/paper/handouts/${encodeURIComponent(one.id)}.html`, target: "_blank", rel: "noopener" }, "Their handout")] : []),
    button("None", () => choose(now.people, false), { class: "rm-link" }),
  );
}

/** A box above the list in which something is looked at before it is done. */
function act(title, ...children) {
  const leave = button("Leave it", () => acting.replaceChildren(), { class: "rm-link" });
  const box = element("section", { class: "hs-box", "aria-label": title, tabindex: -1 }, element("h2", {}, title), ...children);
  /** @type {Element} */ (box.lastElementChild).append(leave);
  acting.replaceChildren(box);
  box.focus();
}

function counts() {
  const which = now.attempts_count === "best" ? "The best attempt counts." : "The last attempt that is handed in counts.";
  return `${which} ${now.attempts === null ? "There may be any number of them." : `${several(now.attempts, "attempt is", "attempts are")} allowed.`}`;
}

function planned(one) {
  const who = `${one.name} (${one.id}), ${titleOf(one.lab)}`;
  if (one.hinders) return element("li", { class: "pp-hinders" }, `✗ ${who}: ${one.hinders}`);
  return element("li", {}, `${who}: attempt ${one.attempt}${one.made ? `, ${one.made} handed in so far` : ", nothing handed in so far"}`);
}

async function lookAtRetake(people, lab) {
  const who = people.map((person) => person.id);
  try {
    const { plan, seen } = await ask(`${classPath()}people/look-at-retake`, { who, lab });
    const stopped = plan.filter((one) => one.hinders);
    const told = [...stopped, ...plan.filter((one) => !one.hinders)];
    const rest = told.length - MOST_TOLD;
    const go = button(`Deal ${several(plan.length, "retake", "retakes")}`, () => begin("people/retake", { who, lab, seen }), { class: "rm-button" });
    act(
      "A retake",
      element("p", {}, `Each is a workbook with new numbers. ${counts()}`),
      element("ul", { class: "hs-list" }, ...told.slice(0, MOST_TOLD).map(planned), ...(rest > 0 ? [element("li", {}, `and ${rest} more`)] : [])),
      ...(stopped.length ? [element("p", {}, "Choose without them, or another lab: nobody is dealt anything as long as one cannot be.")] : []),
      element("div", { class: "rm-row" }, ...(stopped.length ? [] : [go])),
    );
  } catch (error) {
    refused(error);
  }
}

function askForId(old, name, proposed = "") {
  const id = element("input", { class: "rm-input", maxlength: 64, autocomplete: "off", value: proposed, required: true });
  const why = element("input", { class: "rm-input", maxlength: 300, placeholder: "misspelt in the roster", required: true });
  const shown = element("div", { class: "pp-shown" });
  const see = element("button", { class: "rm-button", type: "submit" }, "Look at it");
  const form = element(
    "form",
    { class: "rm-form pp-form" },
    element("label", { class: "rm-label" }, "The id that is right", id),
    element("label", { class: "rm-label" }, "Why; it stays in the records", why),
    see,
    shown,
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    see.hidden = await lookAtId(old, id.value, why.value, shown);
  });
  form.addEventListener("input", () => {
    shown.replaceChildren();
    see.hidden = false;
  });
  act(`Another id for ${name} (${old})`, form, element("div", { class: "rm-row" }));
  id.focus();
}

/** Show what another id changes, with the way to do it; false where it cannot be. */
async function lookAtId(old, wanted, reason, shown) {
  try {
    const change = await ask(`${classPath()}people/look-at-id`, { old, new: wanted });
    const id = wanted.trim();
    const lines = change.workbooks.map((one) => `${titleOf(one.lab)}, attempt ${one.attempt}, dealt to ${one.dealt_to}`);
    const go = button(`Change the id to ${id}`, () => begin("people/id", { old, new: id, reason, seen: change.seen }), { class: "rm-button" });
    shown.replaceChildren(
      element("p", {}, change.in_roster ? `${change.roster}: ${old} becomes ${id}.` : `${id} stands in ${change.roster} already.`),
      element("p", {}, lines.length ? `${change.name} then has these workbooks, with the numbers that they have now:` : "Nothing was dealt to them yet."),
      listOf(lines),
      go,
    );
    go.focus();
    return true;
  } catch (error) {
    shown.replaceChildren(problem(error.message));
    return false;
  }
}

// Who is gone

function gone() {
  if (!now.gone.length) return [];
  const line = (one) =>
    element(
      "li",
      {},
      `${one.name} (${one.id})`,
      ...(one.again
        ? [`: ${one.again.name} (${one.again.id}) has the same name, or nearly. `, button("They are one person …", () => askForId(one.id, one.name, one.again.id), { class: "rm-link" })]
        : []),
    );
  const told = [...now.gone].sort((a, b) => Number(!a.again) - Number(!b.again));
  const rest = told.length - MOST_TOLD;
  return [
    element(
      "section",
      { class: "hs-box" },
      element("h2", {}, "No longer in the roster"),
      element("p", {}, "They were dealt workbooks; what they did stays as it is."),
      element("ul", { class: "hs-list" }, ...told.slice(0, MOST_TOLD).map(line), ...(rest > 0 ? [element("li", {}, `and ${rest} more`)] : [])),
    ),
  ];
}

// The whole page

function toDeal() {
  const waiting = now.people.filter((person) => person.dealt.includes(0)).length;
  if (!waiting) return [];
  const go = button(`Deal to ${several(waiting, "person", "people")}`, () => begin("deal", {}), { class: "rm-button rm-small" });
  return [" ", go];
}

/** Ask anew, and show what is another; what is typed or looked at stays. */
async function look() {
  now = await ask(`${classPath()}people/list`);
  const present = new Set(now.people.map((person) => person.id));
  for (const id of chosen) if (!present.has(id)) chosen.delete(id);
  const waiting = now.people.filter((person) => person.dealt.every((attempt) => !attempt)).length;
  const words = [`${several(now.people.length, "person", "people")}`, waiting && `${waiting} not dealt yet`].filter(Boolean).join(" · ");
  facts.replaceChildren(words, ...toDeal());
  remarks.replaceChildren(...now.wrong.map((line) => problem(line)), ...gone());
  const typing = /** @type {HTMLElement} */ (document.activeElement);
  late.replaceChildren(...lateForm(now, added, look));
  paper.replaceChildren(...paperBox(now, begin));
  if (typing.isConnected) typing.focus();
  list();
  showChosen();
}

async function added(person) {
  tell(`${person.name} (${person.id}) is in the roster. Dealing to who is not dealt yet …`);
  await look();
  await begin("deal", {});
}

function page() {
  const table = element("table", { class: "pp-table" }, element("thead", {}, head), rows);
  classPage(
    now.title,
    "people",
    facts,
    said,
    work.node,
    remarks,
    element(
      "div",
      { class: "pp-both" },
      element("section", { class: "pp-people", "aria-label": "Everybody" }, element("div", { class: "pp-find" }, filter, element("label", { class: "rm-choice" }, all, "choose all that are found"), found), withChosen, acting, element("div", { class: "pp-scroll" }, table), more),
      element("div", { class: "pp-aside" }, late, paper),
    ),
  );
}

// A page that was left open asks again when somebody looks at it.
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible" && now) look().catch(refused);
});

signedIn(async () => {
  await look();
  page();
  work.watch(now.work);
});
