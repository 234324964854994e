// The page of a class: what is next, dealing, and the room.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPage, classPath, problem, signedIn, WorkShown } from "./house.js";

const said = element("div");
const work = new WorkShown(async (told) => {
  await show();
  if (told.told) said.replaceChildren(dealt(told));
});

function dealt(told) {
  const lines = [`${told.new} dealt, ${told.kept} were dealt already.`, ...told.told];
  return element("details", { class: "hs-box" }, element("summary", {}, "Dealt"), element("ul", { class: "hs-list" }, ...lines.map((line) => element("li", {}, line))));
}

async function act(path, what) {
  said.replaceChildren();
  try {
    await ask(classPath() + path, what);
  } catch (error) {
    said.replaceChildren(problem(error.message));
  }
  await show();
}

function lab(one) {
  const how = [one.practice ? "practice" : "assessed", one.in_room && "held from this machine alone"].filter(Boolean).join(", ");
  return element("li", {}, element("b", {}, one.title), ` (${how})`);
}

function dealing(now) {
  if (!now.to_deal) return [];
  const go = button(`Deal ${now.to_deal} workbooks`, () => work.begin("deal", {}), { class: "rm-button" });
  const words = now.workbooks ? "Some are not dealt yet: late trainees, or a lab that was added." : "Everybody gets numbers of their own.";
  return [element("section", { class: "hs-box" }, element("h2", {}, "Deal"), element("p", {}, words), go)];
}

function room(now) {
  if (!now.workbooks) return [];
  const box = element("section", { class: "hs-box" }, element("h2", {}, "The room"));
  if (now.room) {
    const own = element("a", { class: "rm-button", href: now.room.trainers_address, target: "_blank", rel: "noopener" }, "Go to the room");
    const end = button("End the room", () => act("end-room", {}), { class: "rm-link" });
    box.append(
      element("p", {}, "Trainees open"),
      element("p", { class: "rm-address" }, now.room.address),
      element("p", { class: "rm-quiet" }, now.room.words),
      ...now.room.remarks.map((line) => element("p", {}, line)),
      element("div", { class: "rm-row" }, own, end),
    );
    return [box];
  }
  const ways = element("select", { class: "rm-select" }, ...now.ways.map((way) => element("option", { value: way.address }, way.words)));
  const second = element("input", { class: "rm-input", placeholder: "none" });
  const open = button("Open the room", () => act("open-room", { interface: ways.value, second: second.value }), { class: "rm-button" });
  box.append(
    element("label", { class: "rm-label" }, "Network", ways),
    element("label", { class: "rm-label" }, "A folder on a stick or another disk, so that saved means on both", second),
    open,
  );
  return [box];
}

async function show() {
  const now = await ask(`${classPath()}now`);
  const facts = [now.date, now.place, `${now.people} people`, `${now.workbooks} workbooks dealt`].filter(Boolean).join(" · ");
  classPage(
    now.title,
    "",
    element("p", {}, facts),
    element("ul", { class: "hs-list" }, ...now.labs.map(lab)),
    ...now.remarks.map((line) => element("p", { class: "rm-quiet" }, line)),
    said,
    work.node,
    ...dealing(now),
    ...room(now),
    element("p", { class: "rm-quiet" }, now.folder),
  );
  work.watch(now.work);
}

signedIn(async () => {
  try {
    await show();
  } catch (error) {
    document.body.replaceChildren(element("main", { class: "hs-page" }, element("a", { class: "rm-link", href: "/" }, "All classes"), problem(error.message)));
  }
});
