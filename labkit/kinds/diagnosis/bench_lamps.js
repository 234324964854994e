// The indicators of a device, drawn.

import { shape } from "./elements.js";

// How an indicator is drawn: a letter and a ring besides its colour, so that colour is never alone.
// Flashes that are counted have their number instead of a letter.
export const LOOKS = {
  off: ["", "off"],
  green: ["G", "green"],
  "flashing green": ["g", "green"],
  "blinking green": ["g", "green"],
  "single flash green": ["1", "green"],
  red: ["R", "red"],
  "flashing red": ["r", "red"],
  "blinking red": ["r", "red"],
  "single flash red": ["1", "red"],
  "double flash red": ["2", "red"],
  "flashing red and green": ["x", "both"],
  unknown: ["?", "unknown"],
};

const FLASHES = /flash|blinking/;

export const isFlashing = (look) => FLASHES.test(look);

export function lamp(x, y, look, form) {
  const [letter, colour] = LOOKS[look] ?? LOOKS.unknown;
  const flashing = isFlashing(look);
  const classes = `lk-look lk-look-${colour}${flashing ? " lk-flashing" : ""}`;
  const body =
    form === "round"
      ? shape("circle", { cx: x, cy: y, r: 7, class: classes })
      : shape("rect", { x: x - 7, y: y - 7, width: 14, height: 14, rx: 2, class: classes });
  return shape(
    "g",
    {},
    body,
    shape("text", { x, y: y + 4, class: `lk-look-letter lk-on-${colour}${flashing ? " lk-on-flashing" : ""}` }, letter),
  );
}
