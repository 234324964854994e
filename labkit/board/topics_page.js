// Topics by people: a row a person, a column a topic. What stands in a cell is told by signs and words, not by colour.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPage, classPath, signedIn, WorkShown } from "./house.js";

/** @typedef {{ tried: number, running: number, another_day: boolean, since: string }} Standing */
/** @typedef {{ id: string, name: string, topics: Record<string, Standing> }} Person */
/** @typedef {{ running: number, topics: string[], people: Person[], without: string[] }} Told */

const below = `${classPath()}topics/`;

/** @param {string} topic */
function named(topic) {
  return topic[0].toUpperCase() + topic.slice(1);
}

/** A day of the calendar as this browser's user reads it. @param {string} day - YYYY-MM-DD */
function spoken(day) {
  return new Date(`${day}T12:00`).toLocaleDateString([], { day: "numeric", month: "short" });
}

/** How somebody stands in a topic: its name for a sheet, the sign that is seen, the words. @param {Standing | undefined} now @param {number} all */
function stateOf(now, all) {
  if (!now) return { state: "open", sign: "–", words: "not begun" };
  if (now.since) return { state: "sits", sign: "✓", words: `sits since ${spoken(now.since)}` };
  const sign = "●".repeat(now.running) + "○".repeat(all - now.running);
  if (now.another_day) return { state: "day", sign, words: "one more, another day" };
  return { state: "running", sign, words: `${now.running} of ${all}` };
}

/** @param {Standing | undefined} now @param {number} all */
function cell(now, all) {
  const { state, sign, words } = stateOf(now, all);
  const asked = now ? `${now.tried} answered in numbers that were new` : "";
  return element(
    "td",
    { "data-state": state, title: asked },
    element("span", { class: "tp-sign", "aria-hidden": "true" }, sign),
    element("span", { class: state === "open" ? "tp-spoken" : "tp-words" }, words),
  );
}

/** @param {Told} told */
function table({ running, topics, people }) {
  const sits = (topic) => people.filter((one) => one.topics[topic]?.since).length;
  const head = element("tr", {}, element("th", { scope: "col" }, "Name"), ...topics.map((topic) => element("th", { scope: "col" }, named(topic))));
  const rows = people.map((one) =>
    element("tr", {}, element("th", { scope: "row" }, one.name), ...topics.map((topic) => cell(one.topics[topic], running))),
  );
  const sums = topics.map((topic) => element("td", {}, `${sits(topic)} of ${people.length}`));
  const foot = element("tr", {}, element("th", { scope: "row" }, "It sits with"), ...sums);
  return element(
    "div",
    { class: "tp-wide", tabindex: 0, role: "region", "aria-label": "Topics by people" },
    element("table", { class: "tp-table" }, element("thead", {}, head), element("tbody", {}, ...rows), element("tfoot", {}, foot)),
  );
}

/** What the signs mean. @param {number} all */
function legend(all) {
  const one = (sign, words) => element("li", {}, element("span", { class: "tp-sign", "aria-hidden": "true" }, sign), ` ${words}`);
  return element(
    "ul",
    { class: "tp-legend" },
    one("✓", `sits: ${all} or more right in a row, on two days at least`),
    one("●".repeat(all), "right in a row, all on one day: one more on another day"),
    one(`●${"○".repeat(all - 1)}`, "so many right in a row since the last wrong one"),
    one("–", "not begun"),
  );
}

/** @param {Told} told */
function section(told) {
  const said = [
    element("p", {}, "What counts is the first answer to new numbers, without a hint, by one person alone. Practice labs only; none of it counts in marks."),
    element("p", { class: "rm-quiet" }, "By the room's journals, and by the hand-ins that are taken in. Which day it was is by the room's clock, and on a laptop by that laptop's."),
  ];
  const without = told.without.length ? [element("p", { class: "rm-quiet" }, `Labs whose text names no topic: ${told.without.join(", ")}.`)] : [];
  if (!told.topics.length) return [element("p", {}, "No practice lab of this class names a topic, so there is nothing to show."), ...without];
  return [...said, legend(told.running), table(told), ...without];
}

const shown = element("section", { class: "hs-box", hidden: true });
const work = new WorkShown((/** @type {Told | null} */ told) => {
  if (!told?.topics) return;
  shown.hidden = false;
  shown.replaceChildren(element("h2", {}, "Topics by people"), ...section(told));
}, below);

signedIn(async () => {
  const { title, dealt } = await ask(`${below}now`);
  if (!dealt) {
    classPage(title, "topics", element("p", {}, "Nothing is dealt yet, so nothing was practised."));
    return;
  }
  const again = button("Look again", () => work.begin("look", {}), { class: "rm-button" });
  classPage(title, "topics", work.node, shown, again);
  await work.begin("look", {});
});
