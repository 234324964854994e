// The trainer's page: who is here and how far, which labs are open, who waits to be let in.

import { ask, clock } from "./asking.js";
import { button, element } from "./elements.js";
import { pairsOf } from "./pairs.js";
import { pauseOf } from "./pause.js";
import { messagesSent, messageTo } from "./send_message.js";
import { projectorOf } from "./show.js";

const LOOK_AGAIN_MS = 2000;
const MINUTES = [5, 10, 15, 30, 60, 90];

const place = element("main", { class: "rm-trainer" });
const said = element("p", { class: "rm-problem", role: "alert" });

/** Whether it was done. */
async function act(what) {
  said.textContent = "";
  let done = true;
  try {
    await ask("trainer/do", what);
  } catch (error) {
    said.textContent = error.message;
    done = false;
  }
  await look();
  return done;
}

function signIn(sentence = "") {
  const key = decodeURIComponent(location.hash.slice(1));
  const input = element("input", { class: "rm-input", maxlength: 60, autocomplete: "off" });
  const trouble = element("p", { class: "rm-problem", role: "alert" }, sentence);
  const form = element(
    "form",
    { class: "rm-form" },
    element("label", { class: "rm-label" }, "Your name, as the room's log will have it", input),
    element("button", { class: "rm-button", type: "submit" }, "Go to the room"),
    trouble,
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      await ask("trainer/sign-in", { key, name: input.value });
      history.replaceState(null, "", location.pathname);
      begin();
    } catch (error) {
      trouble.textContent = error.message;
    }
  });
  document.body.replaceChildren(element("main", { class: "rm-front" }, element("h1", {}, "The trainer's page"), form));
  input.focus();
}

/** A list of minutes whose choice is an act. */
function minutes(words, made) {
  const list = element(
    "select",
    { class: "rm-select", "aria-label": words },
    element("option", { value: "" }, words),
    ...MINUTES.map((each) => element("option", { value: each }, `${each} minutes`)),
  );
  list.addEventListener("change", () => list.value && act(made(Number(list.value))));
  return list;
}

function labRow(lab, people) {
  const toggle = lab.open
    ? button("Close", () => act({ act: "close", lab: lab.id }), { class: "rm-button rm-small" })
    : button("Open", () => act({ act: "open", lab: lab.id }), { class: "rm-button rm-small" });
  const ways = element("div", { class: "rm-row" }, toggle, minutes("Ends in …", (n) => ({ act: "end in", lab: lab.id, minutes: n })));
  if (lab.ends) ways.append(minutes("Give all …", (n) => ({ act: "give time", lab: lab.id, trainee: "", minutes: n })));
  ways.append(
    lab.released
      ? element("span", { class: "rm-quiet" }, "results released")
      : button("Release results", () => act({ act: "release", lab: lab.id }), { class: "rm-link" }),
  );
  const closed = lab.opens ? `opens at ${clock(lab.opens)}` : "closed";
  const open = lab.ends ? `open until ${clock(lab.ends)}` : "open";
  const state = lab.paused ? "paused" : lab.open ? open : closed;
  return element(
    "li",
    { class: "rm-lab" },
    element("h2", {}, lab.title),
    element("p", { class: "rm-quiet" }, `${lab.practice ? "practice" : "assessed"} · ${state}`),
    ways,
    pairsOf(lab, people, act),
  );
}

function savedAgo(now, last) {
  const minutes = Math.round((Date.parse(now) - Date.parse(last)) / 60000);
  return minutes < 1 ? "saved just now" : `last saved ${minutes} min ago`;
}

function workCell(work, lab, person, now) {
  const cell = element("td");
  if (!work) return cell;
  const { answered, of, last, pages, receipt, ends, together } = work;
  if (of) {
    const bar = element("meter", { min: 0, max: of, value: answered, "aria-label": `${answered} of ${of} answered` });
    cell.append(bar, ` ${answered} of ${of}`);
  }
  const words = [];
  if (pages) words.push("at it");
  if (last) words.push(savedAgo(now, last));
  if (receipt) words.push(`handed in ${receipt}`);
  if (ends && ends !== lab.ends && !lab.paused) words.push(`until ${clock(ends)}`);
  cell.append(element("div", { class: "rm-quiet" }, words.join(" · ") || "not begun"));
  if (together) cell.append(element("div", { class: "rm-quiet" }, element("b", {}, `together with ${together}`)));
  if (lab.ends) {
    cell.append(minutes("Give time …", (n) => ({ act: "give time", lab: lab.id, trainee: person.id, minutes: n })));
  }
  return cell;
}

// Hidden until it is asked for: the page may stand on a wall.
function codeOf(person) {
  if (!person.code) return element("span", { class: "rm-quiet" }, "none: let in by name");
  return button("show", ({ target }) => target.replaceWith(element("span", { class: "rm-code" }, person.code)), { class: "rm-link" });
}

function personRow(person, labs, now) {
  const here = Object.values(person.labs).some((work) => work.pages);
  return element(
    "tr",
    { class: here ? "rm-here" : "" },
    element("th", { scope: "row" }, person.name, element("div", { class: "rm-quiet" }, here ? "here" : "not here")),
    element("td", {}, codeOf(person)),
    ...labs.map((lab) => workCell(person.labs[lab.id], lab, person, now)),
  );
}

function waitingRow({ number, name }, people) {
  const whose = element(
    "select",
    { class: "rm-select", "aria-label": `Who is ${name}?` },
    element("option", { value: "" }, "as …"),
    ...people.map((person) => element("option", { value: person.id }, person.name)),
  );
  // Whoever has that very name is most likely meant.
  whose.value = people.find((person) => person.name.toLowerCase() === name.toLowerCase())?.id ?? "";
  const letIn = () => whose.value && act({ act: "let in", number, trainee: whose.value });
  return element(
    "li",
    {},
    element("b", {}, name),
    whose,
    button("Let in", letIn, { class: "rm-button rm-small" }),
    button("Turn away", () => act({ act: "let in", number, trainee: "" }), { class: "rm-link" }),
  );
}

function secondDisk(second) {
  if (!second) return [];
  const again = button("Use the second disk again", () => act({ act: "second again" }), { class: "rm-button rm-small" });
  const without = button("Go on without the second disk", () => act({ act: "without second" }), { class: "rm-button rm-small" });
  if (second.trouble) return [element("div", { class: "rm-row" }, again, without)];
  if (!second.used) return [element("div", { class: "rm-row" }, element("b", {}, "Saved means on this machine's disk alone."), again)];
  return [element("p", { class: "rm-quiet" }, `Saved means on both disks: here and in ${second.place}`)];
}

function shown(room) {
  const { labs, people, waiting, now } = room;
  const here = people.filter((person) => Object.values(person.labs).some((work) => work.pages)).length;
  const at = document.activeElement;
  place.replaceChildren(
    element("h1", {}, room.class_title),
    element("p", { class: "rm-address" }, room.addresses.join("  ")),
    element("p", { class: "rm-quiet" }, `${here} of ${people.length} here · signed in as ${room.trainer}`),
    element("p", { class: "rm-row" }, element("a", { href: "trainer/marking" }, "Marking"), element("a", { href: "trainer/sign-offs" }, "Sign-offs at the bench")),
    said,
    ...(room.trouble ? [element("p", { class: "rm-problem", role: "alert" }, room.trouble)] : []),
    ...secondDisk(room.second),
    pauseOf(room, act),
    projectorOf(room, act),
    ...(waiting.length
      ? [element("h2", {}, "Waiting to be let in"), element("ul", { class: "rm-waiting" }, ...waiting.map((one) => waitingRow(one, people)))]
      : []),
    element("ul", { class: "rm-labs" }, ...labs.map((lab) => labRow(lab, people))),
    element(
      "table",
      { class: "rm-people" },
      element(
        "thead",
        {},
        element("tr", {}, ...["Who", "Code", ...labs.map((lab) => lab.title)].map((words) => element("th", { scope: "col" }, words))),
      ),
      element("tbody", {}, ...people.map((person) => personRow(person, labs, now))),
    ),
    element("section", { class: "rm-messages" }, element("h2", {}, "Messages"), messageTo(people, act), messagesSent(room, act)),
  );
  // What outlasts it (a field that is typed in) keeps the keys.
  if (at instanceof HTMLElement && place.contains(at)) at.focus({ preventScroll: true });
}

let before = "";

async function look() {
  const room = await ask("trainer/now");
  // Whoever has a list open must be able to choose from it.
  const { now, ...rest } = room;
  const same = JSON.stringify(rest);
  const choosing = document.activeElement?.tagName === "SELECT";
  if (same !== before && !choosing) {
    before = same;
    shown(room);
  }
}

async function keepLooking() {
  try {
    await look();
  } catch (error) {
    if (error.status === 403) return signIn(error.message);
    said.textContent = error.message;
  }
  setTimeout(keepLooking, LOOK_AGAIN_MS);
}

async function begin() {
  if (location.hash) return signIn();
  document.body.replaceChildren(place);
  keepLooking();
}

begin();
