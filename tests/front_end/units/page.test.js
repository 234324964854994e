// What the page at the web host says of an exercise and of the time.

import assert from "node:assert/strict";
import { test } from "node:test";
import { stateOf } from "./exercise_state.js";
import { leftWords } from "./time_left.js";

const told = { readable: true, awaits: false, right: false, credit: 0 };

test("an exercise stands as its verdict says, and without one it is open or saved", () => {
  assert.equal(stateOf({ answered: false, verdict: null }), "open");
  assert.equal(stateOf({ answered: true, verdict: null }), "saved");
  assert.equal(stateOf({ answered: true, verdict: told }), "wrong");
  assert.equal(stateOf({ answered: true, verdict: { ...told, credit: 0.5 } }), "partly");
  assert.equal(stateOf({ answered: true, verdict: { ...told, right: true, credit: 1 } }), "right");
  assert.equal(stateOf({ answered: true, verdict: { ...told, awaits: true } }), "awaits");
  assert.equal(stateOf({ answered: true, verdict: { ...told, readable: false } }), "unreadable");
});

test("the time left is told in minutes, and by seconds near the end", () => {
  const minute = 60_000;
  assert.equal(leftWords(200 * minute), "3 h 20 min left");
  assert.equal(leftWords(42.5 * minute), "42 min left");
  assert.equal(leftWords(4 * minute + 5000), "4:05 left");
  assert.equal(leftWords(1), "0:01 left");
  assert.equal(leftWords(0), "Time is up");
});
