// The way between a page and its host: what is lost, late, refused.

import assert from "node:assert/strict";
import { afterEach, beforeEach, mock, test } from "node:test";

import { ExerciseModel } from "./exercise_model.js";
import { Link } from "./link.js";

/** @type {any[]} */
let sockets = [];
/** @type {any[]} */
let asked = [];
/** @type {any[]} */
let told = [];
let answer = () => response(200, {});
const hooks = Object.fromEntries(
  ["heard", "there", "back", "away", "refused"].map((name) => [name, (what) => told.push([name, what])]),
);
const soon = () => new Promise((done) => setImmediate(done));

function response(status, body) {
  const text = typeof body === "string" ? body : JSON.stringify(body);
  return { ok: status === 200, status, text: async () => text, json: async () => JSON.parse(text) };
}

class Socket {
  static OPEN = 1;
  readyState = 1;
  sent = [];
  constructor() {
    sockets.push(this);
  }
  send(text) {
    this.sent.push(JSON.parse(text));
  }
  close(code = 1000) {
    this.readyState = 3;
    this.onclose({ code });
  }
}

beforeEach(() => {
  [sockets, asked, told] = [[], [], []];
  answer = () => response(200, {});
  mock.timers.enable({ apis: ["setTimeout", "setInterval"] });
  Object.assign(globalThis, {
    WebSocket: Socket,
    addEventListener: () => {},
    document: { baseURI: "http://room/lab/one/", addEventListener: () => {}, visibilityState: "visible" },
    fetch: async (place, { body } = {}) => {
      asked.push(body ? JSON.parse(body) : place);
      return answer(place);
    },
  });
});
afterEach(() => mock.timers.reset());

function opened() {
  const link = new Link(hooks);
  sockets[0].onopen();
  return link;
}

const said = (token) => ({ exercise: "e", message: { do: "answer", token } });

test("what a socket does not answer goes by a plain request; what was answered may go there again", async () => {
  const link = opened();
  link.say(said("t.1"));
  sockets[0].onmessage({ data: JSON.stringify({ exercise: "e", reply: { token: "t.1", again: true } }) });
  link.say(said("t.1"));
  assert.equal(sockets[0].sent.length, 2);
  link.say(said("t.1"));
  assert.equal(sockets[0].readyState, 3);
  await soon();
  assert.deepEqual(asked.filter((each) => each !== "desk"), [said("t.1")]);
});

test("a lost socket is told once the host is found again, not where none is to be had", async () => {
  opened();
  sockets[0].close();
  await soon();
  assert.deepEqual(told.map(([name]) => name), ["there", "back"]);
  mock.timers.tick(300);
  sockets[1].close();
  await soon();
  assert.deepEqual(told.map(([name]) => name), ["there", "back", "there"]);
});

test("a page that lost its seat fails what it says, and goes on when there is a seat again", async () => {
  const link = opened();
  answer = () => response(403, "Join again.");
  sockets[0].close(4403);
  await soon();
  link.say(said("t.1"));
  await soon();
  assert.deepEqual(told, [
    ["refused", "Join again."],
    ["heard", { exercise: "e", reply: { token: "t.1", failed: "Not saved: Join again." } }],
  ]);
  mock.timers.tick(60000);
  assert.equal(sockets.length, 1);
  answer = () => response(200, {});
  link.look();
  await soon();
  assert.equal(sockets.length, 2);
});

test("what the host never takes is failed, in its words; what is in trouble is not", async () => {
  const link = new Link(hooks);
  answer = (place) => (place === "desk" ? response(200, {}) : response(400, "That is no message."));
  link.say(said("t.1"));
  await soon();
  answer = () => response(503, "Tell your instructor.");
  link.say(said("t.2"));
  await soon();
  answer = () => response(502, "<html>");
  link.say(said("t.2"));
  await soon();
  assert.deepEqual(told, [
    ["heard", { exercise: "e", reply: { token: "t.1", failed: "Not saved: That is no message." } }],
    ["there", {}], // it may show another workbook than is worked in now
    ["away", "Tell your instructor."],
    ["away", ""],
  ]);
});

test("what comes late is no news, and a host that was opened again counts anew", () => {
  const model = new ExerciseModel("e", { answer: 1 }, "drafts", () => {});
  model.turn = ["a", 3];
  const heard = [];
  model.on("change:saved", () => heard.push(model.get("saved").answer));
  model.on("msg:custom", (reply) => heard.push(reply.token));
  model.takes({ turn: ["a", 5], saved: { answer: 2 } });
  model.takes({ turn: ["a", 4], saved: { answer: 1 }, reply: { token: "t" } });
  model.takes({ turn: ["b", 0], saved: { answer: 3 } });
  model.takes({ reply: { token: "refused" } });
  assert.deepEqual(heard, [2, "t", 3, "refused"]);
  assert.deepEqual(model.get("saved"), { answer: 3 });
});
