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
  mock.timers.enable({ apis: ["setInterval"] });
});

test("a message is sent again under the same token until it is answered", () => {
  const keeping = keeper(model, count);
  keeping.keep({ do: "answer", answer: "4.2 A" });
  mock.timers.tick(6000);
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
});
