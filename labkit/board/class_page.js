// The page of a class: what is next, dealing, and the room.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPage, classPath, problem, signedIn, WorkShown } from "./house.js";
import { Fresh } from "./kept.js";

const LOOK_AGAIN_MS = 20_000;

const said = element("div");
const facts = new Fresh(element("div"), aboutClass);
const dealing = new Fresh(element("div"), toDeal);
const holding = new Fresh(element("div"), theRoom);
const work = new WorkShown(async (told) => {
  await look();
  if (told.told) said.replaceChildren(dealt(told));
});

function dealt(told) {
  const lines = [`${told.new} dealt, ${told.kept} were dealt already.`, ...told.told];
  const list = element("ul", { class: "hs-list" }, ...lines.map((line) => element("li", {}, line)));
  return element("section", { class: "hs-box" }, element("h2", {}, "Dealt"), list);
}

/** @param {string} path @param {object} what @param {HTMLButtonElement} pressed */
async function act(path, what, pressed) {
  said.replaceChildren();
  pressed.disabled = true;
  try {
    await ask(classPath() + path, what);
  } catch (error) {
    said.replaceChildren(problem(error.message));
  }
  pressed.disabled = false;
  await look();
}

function lab(one) {
  const how = [one.practice ? "practice" : "assessed", one.in_room && "held from this machine alone"].filter(Boolean).join(", ");
  return element("li", {}, element("b", {}, one.title), ` (${how})`);
}

function counted(number, one, many) {
  return `${number} ${number === 1 ? one : many}`;
}

function aboutClass(now) {
  const people = counted(now.people, "person", "people");
  const line = [now.date, now.place, people, `${counted(now.workbooks, "workbook", "workbooks")} dealt`].filter(Boolean).join(" · ");
  const remarks = now.remarks.map((remark) => element("li", {}, remark));
  const known = remarks.length ? [element("h2", {}, "To know"), element("ul", { class: "hs-list" }, ...remarks)] : [];
  return [
    element("p", {}, line),
    element("ul", { class: "hs-list" }, ...now.labs.map(lab)),
    ...known,
    element("p", { class: "rm-quiet" }, `It lies in ${now.folder}`),
  ];
}

function toDeal(waits, before) {
  if (!waits) return [];
  const words = before ? "Some workbooks are not dealt yet: late trainees, or a lab that was added." : "Everybody gets numbers of their own.";
  const go = button(`Deal ${counted(waits, "workbook", "workbooks")}`, () => work.begin("deal", {}), { class: "rm-button" });
  return [element("section", { class: "hs-box" }, element("h2", {}, before ? "Deal what is missing" : "First: deal"), element("p", {}, words), go)];
}

function openRoom(room) {
  const own = element("a", { class: "rm-button", href: room.trainers_address, target: "_blank", rel: "noopener" }, "Go to the room");
  const end = button("End the room", () => act("end-room", {}, end), { class: "rm-link" });
  return [
    element("p", {}, "It is open. Trainees open in any browser:"),
    element("p", { class: "rm-address" }, room.address),
    element("p", { class: "rm-quiet" }, room.words),
    ...room.remarks.map((line) => element("p", {}, line)),
    element("div", { class: "rm-row" }, own, end),
    element("p", { class: "rm-quiet" }, "It ends with this page's labkit too. Everything that is saved stays."),
  ];
}

function closedRoom(ways) {
  const way = element("select", { class: "rm-select" }, ...ways.map((one) => element("option", { value: one.address }, one.words)));
  const second = element("input", { class: "rm-input", autocomplete: "off" });
  const what = () => ({ interface: way.value, second: second.value });
  const open = button("Open the room", () => act("open-room", what(), open), { class: "rm-button" });
  return [
    element("p", {}, "Trainees work in their own browsers; nothing is installed there."),
    element("label", { class: "rm-label" }, "The network that they are in", way),
    element("label", { class: "rm-label" }, "A second disk or stick: a folder there, or leave it empty", second),
    element("p", { class: "rm-quiet" }, "With one, an answer is saved only once it is on both."),
    open,
  ];
}

function theRoom(room, ways, workbooks) {
  if (!workbooks) return [];
  return [element("section", { class: "hs-box" }, element("h2", {}, "The room"), ...(room ? openRoom(room) : closedRoom(ways)))];
}

async function look() {
  const now = await ask(`${classPath()}now`);
  const { title, date, place, folder, labs, people, workbooks, remarks } = now;
  facts.shows({ date, place, folder, labs, people, workbooks, remarks });
  dealing.shows(now.to_deal, now.workbooks);
  holding.shows(now.room, now.ways, now.workbooks);
  work.watch(now.work);
  return title;
}

/** A page that was left open: it looks again by itself, and says so where it cannot. */
async function lookAgain() {
  if (document.hidden) return;
  try {
    await look();
  } catch (error) {
    said.replaceChildren(problem(error.message));
  }
}

signedIn(async () => {
  const title = await look();
  classPage(title, "", said, dealing.node, work.node, holding.node, facts.node);
  setInterval(lookAgain, LOOK_AGAIN_MS);
  document.addEventListener("visibilitychange", lookAgain);
});
