import assert from "node:assert/strict";
import { test } from "node:test";

import { sortedBy } from "./score_table.js";

const ROWS = [
  { id: "a", figure: 50 },
  { id: "b", figure: null },
  { id: "c", figure: 9.5 },
  { id: "d", figure: 100 },
  { id: "e", figure: null },
  { id: "f", figure: 50 },
];
const ids = (rows) => rows.map((row) => row.id).join("");

test("figures are sorted as numbers, what is not known comes last either way, equals stay", () => {
  assert.equal(ids(sortedBy(ROWS, (row) => row.figure, false)), "cafdbe");
  assert.equal(ids(sortedBy(ROWS, (row) => row.figure, true)), "dafcbe");
  assert.equal(ids(ROWS), "abcdef");
});

test("names are sorted as people read them: case and accents aside, numbers by their size", () => {
  const names = ["Person 10", "person 9", "Élan", "Ebba", "Zoe"].map((name) => ({ id: name }));
  const found = sortedBy(names, (row) => row.id, false).map((row) => row.id);
  assert.deepEqual(found, ["Ebba", "Élan", "person 9", "Person 10", "Zoe"]);
});
