// What an answer tells of a path at the bench, when the meter reads, and what is read off the scope.

import assert from "node:assert/strict";
import { test } from "node:test";

import { probePair } from "./bench_probes.js";
import { lastChange, stepsTold } from "./bench_steps.js";
import { axisTicks, bitText, figure, rateText, voltAt } from "./scope_figures.js";

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

test("a long time has no more figures than a short one", () => {
  assert.deepEqual([0.004, -2.125, 52.083, 104.167, 99.996, 1354.17].map(figure), ["0.00", "−2.13", "52.08", "104.2", "100.0", "1354"]);
});

test("a bit is written as it is sent, and nobody's as a dash", () => {
  assert.deepEqual([0, 1, null].map(bitText), ["0", "1", "–"]);
});

test("the last change is what was done, not what was read or refused", () => {
  const log = [{ kind: "power off" }, { kind: "ohms" }, { kind: "land", refused: true }, { kind: "scope" }];
  assert.equal(lastChange(log), 0);
  assert.equal(lastChange([...log, { kind: "replace cable" }]), 4);
  assert.equal(lastChange([{ kind: "look" }]), -1);
});

test("the meter reads when both probes were put anew, or the one that was chosen", () => {
  const probes = probePair();
  assert.equal(probes.missing(), "red");
  assert.equal(probes.put("a/4"), false);
  assert.equal(probes.put("a/2"), true);
  assert.deepEqual(probes.at, { red: "a/4", black: "a/2" });
  probes.isRead();
  assert.equal(probes.put("b/4"), false);
  assert.equal(probes.put("b/2"), true);
  probes.isRead();
  probes.choose("black");
  assert.equal(probes.put("earth"), true);
  assert.deepEqual(probes.at, { red: "b/4", black: "earth" });
});

test("a bit's time says the bit rate: 1 over it (ISO 11898-1)", () => {
  for (const [us, words] of [[8, "125 kbit/s"], [4, "250 kbit/s"], [2, "500 kbit/s"], [1, "1000 kbit/s"]])
    assert.equal(rateText(us), words);
  assert.equal(rateText(-2), "500 kbit/s");
  assert.equal(rateText(2.05), "487.8 kbit/s");
  assert.equal(rateText(0), "–");
});

test("an axis has round places, within its ends", () => {
  assert.deepEqual(axisTicks(0, 22, 11), [0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22]);
  assert.deepEqual(axisTicks(0, 88, 6), [0, 20, 40, 60, 80]);
  assert.deepEqual(axisTicks(-1, 4, 6), [-1, 0, 1, 2, 3, 4]);
  assert.deepEqual(axisTicks(0, 11, 11), [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]);
});

test("a voltage is that of the sample next to the cursor", () => {
  const times = [0, 0.5, 1, 1.5, 2];
  assert.deepEqual([0, 0.2, 0.3, 1.9, 5].map((us) => voltAt(times, [10, 20, 30, 40, 50], us)), [10, 10, 20, 50, 50]);
  assert.deepEqual([2, -0.5, -0.001].map(figure), ["2.00", "−0.50", "0.00"]);
});
