// The trainer's page: the board, the labs and what is done with them, who waits to be let in.

import { ask } from "./asking.js";
import { Board, isHere } from "./board.js";
import { button, element } from "./elements.js";
import { pairsOf } from "./pairs.js";
import { pauseOf } from "./pause.js";
import { messagesSent, messageTo } from "./send_message.js";
import { projectorOf } from "./show.js";
import { Each, Fresh, say } from "./kept.js";
import { LabCard } from "./lab_cards.js";
import { Waiting } from "./waiting.js";

const LOOK_AGAIN_MS = 2000;

const said = element("p", { class: "rm-problem", role: "alert" });
const trouble = element("p", { class: "rm-problem", role: "alert" });
const away = element("p", { class: "rm-problem", role: "alert" });

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
  const wrong = element("p", { class: "rm-problem", role: "alert" }, sentence);
  const form = element(
    "form",
    { class: "rm-form" },
    element("label", { class: "rm-label" }, "Your name, as the room's log will have it", input),
    element("button", { class: "rm-button", type: "submit" }, "Go to the room"),
    wrong,
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      await ask("trainer/sign-in", { key, name: input.value });
      history.replaceState(null, "", location.pathname);
      begin();
    } catch (error) {
      wrong.textContent = error.message;
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
class TrainersPage {
  constructor() {
    this.title = element("h1");
    this.address = element("p", { class: "rm-address" });
    this.here = element("p", { class: "rm-quiet" });
    this.disk = new Fresh(element("div", { class: "bd-disk" }), secondDisk);
    this.lead = element("h2", {}, "Waiting to be let in");
    /** @type {any[]} */
    this.people = [];
    this.waiting = new Each(element("ul", { class: "rm-waiting" }), (one) => new Waiting(one, this.people, act));
    this.waitingBox = element("section", { hidden: true }, this.lead, this.waiting.node);
    this.labs = new Each(element("ul", { class: "rm-labs" }), (lab) => new LabCard(lab, act));
    this.board = new Board(act);
    this.node = element(
      "main",
      { class: "bd-page" },
      element("header", { class: "bd-head" }, this.title, this.here, this.address),
      ...[said, trouble, away],
      element(
        "div",
        { class: "bd-two" },
        element("div", {}, this.waitingBox, this.board.node),
        element("aside", { "aria-label": "The labs" }, this.labs.node, this.disk.node),
      ),
      element("tbody", {}, ...people.map((person) => personRow(person, labs, now))),
    ),
    element("section", { class: "rm-messages" }, element("h2", {}, "Messages"), messageTo(people, act), messagesSent(room, act)),
  );
  // What outlasts it (a field that is typed in) keeps the keys.
  if (at instanceof HTMLElement && place.contains(at)) at.focus({ preventScroll: true });
    );
  }

  shows(room) {
    const { labs, people, waiting } = room;
    this.people = people;
    const here = people.filter(isHere).length;
    say(this.title, room.class_title);
    say(this.address, room.addresses.join("  "));
    say(this.here, `${here} of ${people.length} here · signed in as ${room.trainer}`);
    say(trouble, room.trouble);
    this.disk.shows(room.second);
    this.waitingBox.hidden = !waiting.length;
    this.waiting.of(
      waiting.map(({ number }) => number),
      (number) => waiting.find((one) => one.number === number),
    );
    const cards = this.labs.of(
      labs.map(({ id }) => id),
      (id) => labs.find((lab) => lab.id === id),
    );
    for (const [at, card] of cards.entries()) card.shows(labs[at], people);
    this.board.shows(room);
  }
}

const page = new TrainersPage();

/** Look once; whether there is more to be looked at. */
async function look() {
  try {
    page.shows(await ask("trainer/now"));
    say(away, "");
  } catch (error) {
    if (error.status === 403) {
      signIn(error.message);
      return false;
    }
    say(away, error.message);
  }
  return true;
}

async function keepLooking() {
  if (await look()) setTimeout(keepLooking, LOOK_AGAIN_MS);
}

function begin() {
  if (location.hash) return signIn();
  document.body.replaceChildren(page.node);
  keepLooking();
}

begin();
