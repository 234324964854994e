// A draft in the browser's storage, and a browser that has none.

import assert from "node:assert/strict";
import { afterEach, test } from "node:test";

import { draftStore } from "./draft_store.js";

afterEach(() => {
  Reflect.deleteProperty(globalThis, "localStorage");
});

function storage(given) {
  Object.defineProperty(globalThis, "localStorage", { value: given, configurable: true });
}

test("what is written is read, until it is cleared", () => {
  const kept = new Map();
  storage({
    getItem: (key) => kept.get(key) ?? null,
    setItem: (key, text) => kept.set(key, text),
    removeItem: (key) => kept.delete(key),
  });
  const store = draftStore("labkit:w:e");
  assert.equal(store.read(), null);
  store.write({ answer: ["a"], pending: true });
  assert.deepEqual(store.read(), { answer: ["a"], pending: true });
  assert.deepEqual(draftStore("labkit:w:other").read(), null);
  store.clear();
  assert.equal(store.read(), null);
  kept.set("labkit:w:e", "{half");
  assert.equal(store.read(), null);
});

test("a browser without storage does no harm", () => {
  const refuse = () => { throw new Error("no storage here"); };
  storage({ getItem: refuse, setItem: refuse, removeItem: refuse });
  const store = draftStore("labkit:w:e");
  store.write({ answer: 1 });
  store.clear();
  assert.equal(store.read(), null);
});
