// What an answer tells of a path at the bench.

import assert from "node:assert/strict";
import { test } from "node:test";

import { stepsTold } from "./bench_steps.js";

const step = (kind, number) => ({ kind, number });

test("what was refused is not told", () => {
  const steps = [step("ohms", 0), step("land", 1)];
  assert.deepEqual(stepsTold(steps, [{ refused: true }, {}]), [steps[1]]);
});

test("of a long path only what was done is told, and of that the last", () => {
  const path = Array.from({ length: 400 }, (_, number) => step(number % 2 ? "land" : "volts", number));
  const log = path.map(() => ({}));
  assert.deepEqual(stepsTold(path.slice(0, 160), log), path.slice(0, 160));
  const told = stepsTold(path, log);
  assert.equal(told.length, 160);
  assert.deepEqual(new Set(told.map(({ kind }) => kind)), new Set(["land"]));
  assert.equal(told.at(-1).number, 399);
});
