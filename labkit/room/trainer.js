// The trainer's page: the board, the labs and what is done with them, who waits to be let in.

import { ask } from "./asking.js";
import { Board, isHere } from "./board.js";
import { button, element } from "./elements.js";
import { Each, Fresh, say } from "./kept.js";
import { LabCard } from "./lab_cards.js";
import { pausedLabs, pauseForm } from "./pause.js";
import { messagesSent, Writing } from "./send_message.js";
import { projectorOf } from "./show.js";
import { Waiting } from "./waiting.js";

const LOOK_AGAIN_MS = 2000;

const said = element("p", { class: "rm-problem", role: "alert" });
const trouble = element("p", { class: "rm-problem", role: "alert" });
const away = element("p", { class: "rm-problem", role: "alert" });

async function act(what) {
  said.textContent = "";
  try {
    await ask("trainer/do", what);
  } catch (error) {
    said.textContent = error.message;
  }
  await look();
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

function secondDisk(second) {
  if (!second) return [];
  const again = button("Use the second disk again", () => act({ act: "second again" }), { class: "rm-button rm-small" });
  const without = button("Go on without the second disk", () => act({ act: "without second" }), { class: "rm-button rm-small" });
  if (second.trouble) return [element("div", { class: "rm-row" }, again, without)];
  if (!second.used) return [element("div", { class: "rm-row" }, element("b", {}, "Saved means on this machine's disk alone."), again)];
  return [element("p", { class: "rm-quiet" }, `Saved means on both disks: here and in ${second.place}`)];
}

function marksBy(href, words) {
  return element("a", { class: "rm-link", href }, words);
}

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
    this.paused = new Fresh(element("div"), (labs) => pausedLabs(labs, act));
    const pause = element("section", { class: "rm-pause", "aria-label": "Pause" }, this.paused.node, pauseForm([], act));
    this.projector = new Fresh(element("div", { class: "bd-projector" }), (projector, addresses) => [projectorOf({ projector, addresses }, act)]);
    this.writing = new Writing(act);
    this.sent = new Fresh(element("div"), (messages, names) => [messagesSent({ messages, people: names }, act)]);
    this.messages = element("summary", {}, "Messages");
    const messages = element("details", { class: "rm-messages" }, this.messages, this.writing.node, this.sent.node);
    const byHand = element("nav", { class: "rm-row", "aria-label": "Marks by hand" }, marksBy("trainer/marking", "Marking"), marksBy("trainer/sign-offs", "Sign-offs at the bench"));
    this.node = element(
      "main",
      { class: "bd-page" },
      element("header", { class: "bd-head" }, this.title, this.here, byHand, this.address),
      ...[said, trouble, away],
      element(
        "div",
        { class: "bd-two" },
        element("div", {}, this.waitingBox, this.board.node, messages),
        element("aside", { "aria-label": "The labs" }, pause, this.labs.node, this.projector.node, this.disk.node),
      ),
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
    const standing = labs.map(({ id, title, open, paused }) => ({ id, title, open, paused }));
    this.paused.shows(standing);
    pauseForm(standing, act);
    this.projector.shows(room.projector, room.addresses);
    const names = people.map(({ id, name }) => ({ id, name }));
    this.writing.holds(names);
    this.sent.shows(room.messages, names);
    const unread = room.messages.filter((one) => !one.taken_back && one.read.length < one.to.length).length;
    say(this.messages, unread ? `Messages · ${unread} not read by all` : "Messages");
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
