// What the page at the web host says of an exercise and of the time.

import assert from "node:assert/strict";
import { test } from "node:test";
import { howWords, stateOf } from "./exercise_state.js";
import { saidAt } from "./from_trainer.js";
import { earnedShort, earnedWords } from "./own_results.js";
import { leftWords, timeWords } from "./time_left.js";

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

test("a mark says how an exercise stands where the page itself knows no more", () => {
  const mark = { state: "wrong" };
  assert.equal(stateOf({ answered: true, verdict: null }, mark), "missed");
  assert.equal(stateOf({ answered: false, verdict: null }, { state: "blank" }), "blank");
  assert.equal(stateOf({ answered: true, verdict: { ...told, readable: false } }, mark), "missed");
  assert.equal(stateOf({ answered: true, verdict: { ...told, right: true, credit: 1 } }, mark), "right");
  for (const state of ["right", "partly", "wrong", "blank", "waits", "voided"]) {
    assert.ok(stateOf({ answered: true, verdict: null }, { state }), state);
  }
});

test("how it came to that is told in words", () => {
  assert.equal(howWords("right", 1, 0), "right at the first try");
  assert.equal(howWords("right", 3, 1), "right after 3 tries, with 1 hint");
  assert.equal(howWords("wrong", 1, 0), "not right yet");
  assert.equal(howWords("partly", 2, 2), "partly right, 2 tries, with 2 hints");
  assert.equal(howWords("blank", 1, 0), "no answer");
  for (const state of /** @type {const} */ (["open", "saved", "awaits", "voided"])) assert.equal(howWords(state, 2, 1), "");
});

test("marks are told as long as there is room, and as short as in the list", () => {
  const mark = /** @type {any} */ ({ state: "partly", earned: 4 / 3, possible: 4 });
  assert.equal(earnedWords(mark), "1.33 of 4 marks");
  assert.equal(earnedShort(mark), "1.33/4");
  assert.equal(earnedWords({ ...mark, state: "waits" }), "– of 4 marks");
  assert.equal(earnedShort({ ...mark, state: "voided" }), "");
});

test("the time left is told in minutes, and by seconds near the end", () => {
  const minute = 60_000;
  assert.equal(leftWords(200 * minute), "3 h 20 min left");
  assert.equal(leftWords(42.5 * minute), "42 min left");
  assert.equal(leftWords(4 * minute + 5000), "4:05 left");
  assert.equal(leftWords(1), "0:01 left");
  assert.equal(leftWords(0), "Time is up");
});

test("in a pause the time left is told to stand still, and time that is up is not", () => {
  assert.equal(timeWords(8 * 60_000, true), "8 min left, time stands still");
  assert.equal(timeWords(8 * 60_000, false), "8 min left");
  assert.equal(timeWords(0, true), "Time is up");
});

test("a message of another day names the day", () => {
  const now = new Date(2026, 10, 29, 13, 0);
  const said = (hours) => saidAt(new Date(now.getTime() - hours * 3_600_000).toISOString(), now);
  assert.doesNotMatch(said(1), /2026/);
  assert.match(said(24), /28.*2026/);
});
