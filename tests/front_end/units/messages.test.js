// What waits for Python is sent again, and one reply ends it.

import assert from "node:assert/strict";
import { beforeEach, mock, test } from "node:test";

import { keeper, stepQueue } from "./messages.js";

let sent = [];
let stuck = 0;
const model = { send: (message) => sent.push(message) };
const count = () => {
  stuck += 1;
};

beforeEach(() => {
  sent = [];
  stuck = 0;
  mock.timers.reset();
  mock.timers.enable({ apis: ["setTimeout"] });
});

test("a message is sent again under the same token until it is answered", () => {
  const keeping = keeper(model, count);
  keeping.keep({ do: "answer", answer: "4.2 A" });
  mock.timers.tick(3000);
  mock.timers.tick(3000);
  assert.equal(sent.length, 3);
  assert.equal(new Set(sent.map((each) => each.token)).size, 1);
  assert.equal(stuck, 2);
  assert.equal(keeping.answered({ token: "another" }), null);
  assert.equal(keeping.waits(), true);
  assert.equal(keeping.answered({ token: sent[0].token }).answer, "4.2 A");
  assert.equal(keeping.waits(), false);
  mock.timers.tick(60000);
  assert.equal(sent.length, 3);
});

test("tries come ever later, and at once when the host is back", () => {
  const keeping = keeper(model, count);
  keeping.keep({ do: "answer", answer: "4.2 A" });
  const after = [];
  for (let second = 1; second <= 43; second += 1) {
    mock.timers.tick(1000);
    if (sent.length > after.length + 1) after.push(second);
  }
  assert.deepEqual(after, [3, 6, 11, 19, 31, 43]);
  keeping.back();
  assert.equal(sent.length, after.length + 2);
  keeping.answered({ token: sent[0].token, saved: true });
  keeping.back();
  assert.equal(sent.length, after.length + 2);
});

test("what the disk does not take is told, and comes again by itself under its token", () => {
  const words = [];
  const keeping = keeper(model, (said) => words.push(said));
  keeping.keep({ do: "answer", answer: "4.2 A" });
  keeping.hurry(); // it is under way
  assert.equal(sent.length, 1);
  const reply = { token: sent[0].token, failed: "Not saved: the disk is full.", again: true };
  assert.equal(keeping.answered(reply), null);
  assert.equal(keeping.waitsFor("4.2 A"), true);
  mock.timers.tick(2999);
  assert.equal(sent.length, 1);
  mock.timers.tick(1);
  assert.equal(sent.length, 2);
  keeping.answered(reply);
  keeping.hurry(); // pressed once more
  assert.equal(sent.length, 3);
  assert.deepEqual(words, [reply.failed, reply.failed]);
  assert.equal(keeping.answered({ token: sent[2].token, failed: "Not saved: it is shut." }).answer, "4.2 A");
  mock.timers.tick(60000);
  assert.equal(sent.length, 3);
  assert.equal(new Set(sent.map((each) => each.token)).size, 1);
});

test("what takes the place of another has a higher number of the same page", () => {
  const keeping = keeper(model, count);
  for (const answer of ["a", "b"]) keeping.keep({ do: "answer", answer });
  const [first, second] = sent.map(({ token }) => token.split("."));
  assert.equal(first[0], second[0]);
  assert.equal(Number(second[1]), Number(first[1]) + 1);
});

test("a newer answer takes the place of one that waits", () => {
  const keeping = keeper(model, count);
  keeping.keep({ do: "answer", answer: { a: 1 } });
  keeping.keep({ do: "answer", answer: { a: 2 } });
  assert.equal(keeping.waitsFor({ a: 1 }), false);
  assert.equal(keeping.waitsFor({ a: 2 }), true);
  assert.equal(keeping.answered({ token: sent[0].token }), null);
  mock.timers.tick(3000);
  assert.deepEqual(sent.map((each) => each.answer.a), [1, 2, 2]);
});

test("an engine that throws is stuck, and is tried again", () => {
  const keeping = keeper({ send: () => { throw new Error("gone"); } }, count);
  keeping.keep({ do: "hint" });
  assert.equal(stuck, 1);
  keeping.stop();
  mock.timers.tick(9000);
  assert.equal(stuck, 1);
});

test("steps leave one after the other, each with its own patience", async () => {
  const order = [];
  const steps = stepQueue(model, { stuck: count, heard: () => order.push("heard") });
  const first = steps.step({ kind: "ohms" }, 20000);
  const second = steps.step({ kind: "look" });
  assert.deepEqual(sent.map((each) => each.step.kind), ["ohms"]);
  mock.timers.tick(19999);
  assert.equal(stuck, 0);
  mock.timers.tick(1);
  assert.equal(stuck, 1);
  steps.answered({ token: sent[0].token, reply: { state: 1 } });
  assert.deepEqual(await first, { state: 1 });
  assert.deepEqual(sent.map((each) => each.step.kind), ["ohms", "ohms", "look"]);
  steps.answered({ token: sent[2].token, failed: "Not done: no." });
  await assert.rejects(second, (reason) => reason === "Not done: no.");
  assert.deepEqual(order, ["heard", "heard"]);
  const third = steps.step({ kind: "volts" });
  const { token } = sent[3];
  steps.answered({ token, failed: "Not saved: the disk is full.", again: true });
  mock.timers.tick(3000);
  assert.equal(sent[4].token, token);
  steps.back();
  assert.equal(sent[5].token, token);
  steps.answered({ token, reply: { state: 2 } });
  assert.deepEqual(await third, { state: 2 });
  steps.back();
  assert.equal(sent.length, 6);
});
