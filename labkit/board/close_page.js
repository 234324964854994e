// The page on which a class is closed.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPage, classPath, signedIn, WorkShown } from "./house.js";
import { certificates, whoGetsOne } from "./close_certificates.js";
import { erasure } from "./close_erasure.js";
import { box, command, field, form, lines } from "./close_parts.js";

const said = element("div", { class: "cl-told", role: "status" });
const work = new WorkShown(async (told) => {
  if (told.told) tell(told.told);
  await show();
});

function tell(told) {
  said.replaceChildren(element("section", { class: "hs-box" }, element("h2", {}, "Done"), lines(told)));
}

/** What forms and buttons do: acts that are done at once, and work that takes long. */
const does = {
  async act(part, what) {
    tell((await ask(`${classPath()}close/${part}`, what)).told);
    await show();
    said.scrollIntoView({ block: "nearest" });
  },
  async work(part, what) {
    said.replaceChildren();
    work.node.scrollIntoView({ block: "nearest" });
    await work.begin(`close/${part}`, what);
  },
};

function open(told) {
  if (!told) return box("Still open", element("p", { role: "status" }, "Looking …"));
  if (told.wrong) return box("Still open", element("p", {}, told.wrong));
  if (!told.open.length) return box("Still open", element("p", {}, "Nothing: everything that came in is scored, and nothing waits for a mark."));
  const points = told.open.map((one) => element("li", {}, one.sentence, ...(one.command ? [command(one.command)] : [])));
  return box("Still open", element("ul", { class: "hs-list" }, ...points));
}

function handingOn() {
  const to = field("A folder, with its whole path", { placeholder: "a new folder on a stick, a share" });
  return box(
    "Hand on",
    element("p", {}, "A transcript for everybody, certificates, and results as tables and statements for other programs. Certificates that are due are issued."),
    form("Export", () => does.work("export", { to: to.input.value }), to.label),
    command("labkit export CLASS --to FOLDER"),
  );
}

function backup() {
  const to = field("A folder outside of the class, with its whole path", { placeholder: "on a stick, another disk" });
  return box(
    "Backup",
    element("p", {}, "The whole class in one file: names, answers, records and the class's secret. It is not encrypted: keep it where nobody else reads it. It is read again once it is written. The issuer's key is not in it."),
    form("Write a backup", () => does.work("backup", { to: to.input.value }), to.label),
    command("labkit records CLASS --backup FILE"),
  );
}

function verifying() {
  const printed = field("The code on a score sheet or receipt, if you have one", { placeholder: "none" });
  return box(
    "Are the records as they were written?",
    element("p", {}, "Walks through every entry and marks everything again. It changes nothing."),
    form("Verify the records", () => does.work("verify", { printed: printed.input.value }), printed.label),
    command("labkit records CLASS --verify"),
  );
}

function keeping(now) {
  const until = field("Keep until", { type: "date", value: now.keep_until });
  const state = now.keep_until ? `To be kept until ${now.keep_until}.` : "No day is set: labkit does not remind you.";
  return box(
    "What is kept until when",
    element("p", {}, state),
    ...(now.over ? [element("p", { class: "rm-problem" }, now.over)] : []),
    element("p", { class: "rm-quiet" }, "Everything in the class's folder is kept until you delete it: labkit deletes nothing by itself. From that day on it reminds you."),
    form("Write it into class.yaml", () => does.act("keep", { until: until.input.value, seen: now.seen }), until.label),
    element("p", { class: "cl-command" }, "The same, typed: a line ", element("code", {}, "keep_until: 2027-11-30"), " in class.yaml"),
  );
}

/** What the pages did that no other entry tells: who, and when. */
function acts(told) {
  if (!told.acts?.length) return [];
  const list = element("ul", { class: "hs-list" }, ...told.acts.map((one) => element("li", {}, one)));
  return [box("Who did what last", element("details", { class: "cl-fold" }, element("summary", {}, told.acts[0]), list), command("labkit records CLASS"))];
}

/** What is typed here stays while the rest is shown anew. */
const staying = [handingOn(), backup(), verifying()];
let shown = 0;

async function show() {
  const mine = ++shown;
  const now = await ask(`${classPath()}close/now`);
  // Whoever looked once more meanwhile sees what came of that.
  if (mine !== shown) return;
  const places = { open: element("div", {}), certificates: element("div", {}), acts: element("div", {}), erasure: element("div", {}) };
  places.open.replaceChildren(open(now.dealt ? null : { wrong: "Nothing is dealt yet." }));
  places.certificates.replaceChildren(certificates(now, null, does));
  classPage(
    now.title,
    "close",
    said,
    work.node,
    places.open,
    places.certificates,
    ...staying,
    places.acts,
    keeping(now),
    places.erasure,
    element("p", { class: "rm-quiet" }, `Looked at ${new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}. `, button("Look again", show, { class: "rm-link" })),
    element("p", { class: "rm-quiet" }, now.folder),
  );
  work.watch(now.work);
  const stands = now.dealt ? ask(`${classPath()}close/open`).catch((error) => ({ wrong: error.message })) : { wrong: "Nothing is dealt yet." };
  const [told, people] = await Promise.all([stands, whoGetsOne(now)]);
  if (mine !== shown) return;
  places.open.replaceChildren(open(told));
  places.acts.replaceChildren(...acts(told));
  places.certificates.replaceChildren(certificates(now, people, does));
  places.erasure.replaceChildren(erasure(people.people ?? [], does));
}

/** A page that was left open looks again when somebody comes back to it and is not at work in it. */
function comesBack() {
  let hidden = 0;
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) hidden = Date.now();
    else if (hidden && Date.now() - hidden > 60_000 && !document.querySelector("input:focus, textarea:focus")) show();
  });
}

signedIn(async () => {
  await show();
  comesBack();
});
