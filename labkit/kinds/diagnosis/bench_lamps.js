// The indicators of a device, drawn.

import { shape } from "./elements.js";

// How an indicator is drawn: a letter and a ring besides its colour, so that colour is never alone.
export const LOOKS = {
  off: ["", "off"],
  green: ["G", "green"],
  "flashing green": ["g", "green"],
  red: ["R", "red"],
  "flashing red": ["r", "red"],
  "flashing red and green": ["x", "both"],
  unknown: ["?", "unknown"],
};

export function lamp(x, y, look, form) {
  const [letter, colour] = LOOKS[look] ?? LOOKS.unknown;
  const flashing = look.startsWith("flashing");
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
