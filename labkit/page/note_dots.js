// How a note is drawn: its number in a dot at its place, and its text beside it where there is room for that.

import { shape } from "./elements.js";

const LABEL = 24; // letters; the whole text stands in the list

/** @typedef {import("./drawing_notes.js").Note} Note */
/** @typedef {import("./drawing_view.js").Place} Place */

/** @param {string} text */
const short = (text) => (text.length > LABEL ? `${text.slice(0, LABEL - 1)}…` : text);

/**
 * As large on the screen, however large the drawing is: `unit` is a pixel in the drawing's units.
 * @param {Note} note @param {Place} at @param {number} unit @param {"left" | "right"} [side] - where its text stands
 */
export function noteDot({ number, text }, { x, y }, unit, side) {
  const dot = shape("g", { class: "zd-dot", "data-note": number, transform: `translate(${x} ${y}) scale(${unit})` });
  if (side) dot.append(shape("text", { x: side === "left" ? -17 : 17, y: 5, class: `zd-label zd-${side}` }, short(text)));
  dot.append(shape("circle", { r: 12 }), shape("text", { y: 5, class: "zd-dot-number" }, String(number)), shape("title", {}, text));
  return dot;
}

/** Where a note would be pinned. @param {Place} at @param {number} unit */
export function cross({ x, y }, unit) {
  const line = (/** @type {string} */ d) => shape("path", { d, class: "zd-cross-line" });
  const place = { class: "zd-cross", transform: `translate(${x} ${y}) scale(${unit})` };
  return shape("g", place, line("M-22 0H-5M5 0H22M0 -22V-5M0 5V22"), shape("circle", { r: 5, class: "zd-cross-line" }));
}
