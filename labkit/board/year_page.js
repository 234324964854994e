// Classes beside each other: who is due to be trained again, people across classes, labs compared.

import { element, shape } from "./elements.js";
import { problem, signedIn, WorkShown } from "./house.js";

const MOST_SHOWN = 200;

function cell(...children) {
  return element("td", {}, ...children);
}

function table(headings, rows) {
  const head = element("tr", {}, ...headings.map((words) => element("th", { scope: "col" }, words)));
  return element("div", { class: "yr-wide" }, element("table", { class: "yr-table" }, element("thead", {}, head), element("tbody", {}, ...rows)));
}

/** A day of the calendar as this browser's user reads it. @param {string} day - YYYY-MM-DD, or "" */
function spoken(day) {
  return day ? new Date(`${day}T12:00`).toLocaleDateString([], { dateStyle: "medium" }) : "";
}

function classLink(folder, title) {
  return element("a", { class: "rm-link", href: `/class/${encodeURIComponent(folder)}/` }, title);
}

function dueRow(one) {
  const words = one.over ? element("span", { class: "yr-over" }, `ended on ${spoken(one.until)}`) : `until ${spoken(one.until)}`;
  return element("tr", {}, cell(words), cell(`${one.name} (${one.id})`), cell(one.title), cell(one.serial));
}

function personRow(one) {
  const classes = one.classes.map((each) =>
    element("li", {}, classLink(each.folder, each.title), ` ${[spoken(each.day), each.result].filter(Boolean).join(": ")}`),
  );
  const remark = one.remark ? [element("p", { class: "rm-quiet" }, one.remark)] : [];
  return element("tr", {}, cell(one.name, ...remark), element("td", { class: "yr-id" }, one.id), cell(element("ul", { class: "yr-classes" }, ...classes)));
}

/** How a class did in a lab: its mean, and where the mean may lie by chance. @param {any} one */
function bar(one) {
  if (one.mean === null) return "–";
  const words = `mean ${Math.round(one.mean)} %; by chance it may lie between ${Math.round(one.low)} and ${Math.round(one.high)} %`;
  return shape(
    "svg",
    { class: "yr-bar", viewBox: "0 0 100 12", preserveAspectRatio: "none", role: "img", "aria-label": words },
    shape("rect", { class: "yr-ground", x: 0, y: 1, width: 100, height: 10 }),
    shape("rect", { class: "yr-range", x: one.low, y: 4, width: one.high - one.low, height: 4 }),
    shape("rect", { class: "yr-mean", x: Math.max(0, one.mean - 1), y: 1, width: 2, height: 10 }),
  );
}

function labRow(one) {
  const number = (words) => element("td", { class: "yr-number" }, words);
  const mean = one.mean === null ? "–" : `${Math.round(one.mean)} %`;
  return element(
    "tr",
    {},
    cell(one.lab),
    cell(one.version),
    cell(classLink(one.folder, one.title), one.day ? ` ${spoken(one.day)}` : ""),
    cell(one.practice ? "practice" : "assessed"),
    number(String(one.handed_in)),
    number(mean),
    cell(bar(one)),
  );
}

/** People, of whom those are shown whose name, id or class has what is typed. @param {any[]} people */
function peopleFound(people) {
  const rows = element("div");
  const find = element("input", { class: "rm-input yr-find", type: "search", autocomplete: "off" });
  const count = element("p", { class: "rm-quiet", role: "status" });
  const show = () => {
    const typed = find.value.trim().toLowerCase();
    const words = (one) => [one.name, one.id, ...one.classes.map((each) => each.title)].join("\n").toLowerCase();
    const found = people.filter((one) => words(one).includes(typed));
    const more = found.length > MOST_SHOWN ? `; the first ${MOST_SHOWN} are shown` : "";
    count.textContent = `${found.length} of ${people.length} people${more}`;
    rows.replaceChildren(table(["Name", "Id", "Classes"], found.slice(0, MOST_SHOWN).map(personRow)));
  };
  find.addEventListener("input", show);
  show();
  return [element("label", { class: "rm-label" }, "Find a name, an id or a class", find), count, rows];
}

function section(title, ...children) {
  return element("section", { class: "hs-box" }, element("h2", {}, title), ...children);
}

function dueSection(due) {
  const none = "No certificate that was issued in these classes ends. The line 'valid_for' in a class's class.yaml says how long one holds.";
  const inside = due.length ? table(["Holds", "Who", "Class", "Serial number"], due.map(dueRow)) : element("p", {}, none);
  return section("To be trained again", inside);
}

function labsSection(labs) {
  const sorted = [...labs].sort((a, b) => a.lab.localeCompare(b.lab) || a.day.localeCompare(b.day));
  const words =
    "The mix of people differs from class to class: where the grey ranges of two classes overlap widely, the difference of their means may be chance alone.";
  const headings = ["Lab", "Version", "Class", "", "Handed in", "Mean", "Where the mean may lie by chance"];
  return section("Labs compared", element("p", { class: "rm-quiet" }, words), table(headings, sorted.map(labRow)));
}

const shown = element("div");
const work = new WorkShown(
  (told) =>
    told.people &&
    shown.replaceChildren(
      ...told.wrong.map((one) => problem(`${one.folder}: ${one.sentences.join("\n")}`)),
      dueSection(told.due),
      section("People", ...peopleFound(told.people)),
      labsSection(told.labs),
    ),
  "/year/",
);

signedIn(async () => {
  document.title = "Across classes – labkit";
  const back = element("a", { class: "rm-link", href: "/" }, "All classes");
  const head = element("header", { class: "hs-head" }, back, element("h1", {}, "Across classes"));
  document.body.replaceChildren(element("div", { class: "hs-page" }, head, element("main", {}, work.node, shown)));
  await work.begin("look", {});
});
