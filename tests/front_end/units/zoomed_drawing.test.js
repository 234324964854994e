// What is shown of a large drawing, its notes, and where a place of it is in the drawing beside a question.

import assert from "node:assert/strict";
import { afterEach, test } from "node:test";
import { DrawingNotes } from "./drawing_notes.js";
import { DrawingView } from "./drawing_view.js";
import { samePlace } from "./same_place.js";

const WHOLE = { x: 0, y: 0, width: 900, height: 400 };

function viewIn(width, height) {
  const view = new DrawingView(WHOLE);
  view.takes(width, height);
  view.begin();
  return view;
}

test("a drawing is opened whole, and on a small screen from its beginning, to be read", () => {
  assert.deepEqual(viewIn(1800, 900).box, { x: 0, y: -25, width: 900, height: 450 });
  const small = viewIn(360, 540);
  assert.equal(small.scale, 0.9);
  assert.deepEqual(small.box, { x: 0, y: -100, width: 400, height: 600 });
  small.fit();
  assert.equal(small.box.width, 900);
});

test("what is zoomed at stays where it is on the screen", () => {
  const view = viewIn(1800, 900);
  const at = { x: 300, y: 100 };
  const onScreen = () => [(at.x - view.box.x) * view.scale, (at.y - view.box.y) * view.scale];
  const before = onScreen();
  view.zoom(2, at);
  assert.equal(view.scale, 4);
  assert.deepEqual(onScreen(), before);
});

test("it is never smaller than the window, and never out of it", () => {
  const view = viewIn(1800, 900);
  view.zoom(0.1);
  assert.equal(view.scale, 2);
  view.zoom(1000);
  assert.equal(view.scale, 8);
  view.move(1e6, -1e6);
  assert.deepEqual(view.middle, { x: 900, y: 0 });
});

test("a place comes into view, and what is in view moves nothing", () => {
  const view = viewIn(1800, 900);
  view.zoom(4);
  const { box } = view;
  view.shows({ x: box.x + 1, y: box.y + 1 });
  assert.deepEqual(view.box, box);
  view.shows({ x: box.x + box.width + 10, y: box.y - 5 });
  assert.deepEqual([view.box.x, view.box.y], [box.x + 10, box.y - 5]);
});

test("a window of another size shows all where all was shown, and the same middle otherwise", () => {
  const view = viewIn(1800, 900);
  view.takes(900, 900);
  assert.equal(view.box.width, 900);
  view.zoom(3, { x: 0, y: 0 });
  const { middle, scale } = view;
  view.takes(1800, 900);
  assert.deepEqual([view.middle, view.scale], [middle, scale]);
});

/** @type {Map<string, string>} */
const kept = new Map();

function storage() {
  kept.clear();
  const value = { getItem: (key) => kept.get(key) ?? null, setItem: (key, text) => kept.set(key, text), removeItem: (key) => kept.delete(key) };
  Object.defineProperty(globalThis, "localStorage", { value, configurable: true });
}

afterEach(() => {
  Reflect.deleteProperty(globalThis, "localStorage");
});

test("notes are kept by their numbers, and are there again", () => {
  storage();
  const notes = new DrawingNotes("ann:7");
  let heard = 0;
  notes.on(() => heard++);
  notes.keep({ number: notes.next, text: "first", x: 1, y: 2 });
  notes.keep({ number: notes.next, text: "second", x: 3, y: 4 });
  notes.keep({ number: 1, text: "changed", x: 5, y: 2 });
  notes.remove(2);
  assert.equal(heard, 4);
  assert.deepEqual([...kept.keys()], ["labkit:ann:7:_notes"]);
  assert.deepEqual(new DrawingNotes("ann:7").all, [{ number: 1, text: "changed", x: 5, y: 2 }]);
  assert.deepEqual(new DrawingNotes("ben:7").all, []);
  notes.remove(1);
  assert.equal(kept.size, 0);
});

test("what is no note there is left out, and a browser that keeps nothing says so", () => {
  storage();
  kept.set("labkit:ann:7:_notes", JSON.stringify([{ number: 1, text: "a", x: 1, y: 2 }, { number: 2, text: "b", x: "1", y: 2 }, null, 3]));
  const notes = new DrawingNotes("ann:7");
  assert.deepEqual(notes.all.map(({ number }) => number), [1]);
  assert.ok(notes.stay);
  Reflect.deleteProperty(globalThis, "localStorage");
  notes.keep({ number: 2, text: "b", x: 1, y: 2 });
  assert.equal(notes.all.length, 2);
  assert.ok(!notes.stay);
});

test("a place goes with the part that it is nearest to", () => {
  const part = (name, x, y, width) => ({ name, box: { x, y, width, height: 30 } });
  const wide = [part("tap 1", 80, 0, 10), part("capper", 100, 60, 120), part("tap 2", 280, 0, 10)];
  const narrow = [part("tap 1", 40, 0, 10), part("capper", 60, 60, 100), part("tap 2", 40, 200, 10)];
  assert.deepEqual(samePlace(wide, narrow, { x: 160, y: 75 }), { x: 110, y: 75 }); // its middle
  assert.deepEqual(samePlace(wide, narrow, { x: 230, y: 60 }), { x: 170, y: 60 }); // 10 behind it
  assert.deepEqual(samePlace(wide, narrow, { x: 270, y: -5 }), { x: 30, y: 195 }); // on the next row there
  assert.equal(samePlace(wide, narrow.slice(1), { x: 1, y: 1 }), undefined);
  assert.equal(samePlace(wide, [...narrow.slice(0, 2), part("supply", 0, 0, 1)], { x: 1, y: 1 }), undefined);
  assert.equal(samePlace([], [], { x: 1, y: 1 }), undefined);
});
