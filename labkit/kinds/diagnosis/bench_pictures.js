// The indicators over time, drawn.

import { LOOKS, isFlashing } from "./bench_lamps.js";
import { shape } from "./elements.js";

const SHORT = { "flashing red and green": "flash red+green", "flashing green": "flash green", "flashing red": "flash red" };
const ROW = 22;

// A row a device; `room` is how wide it may be, so that letters are as large as elsewhere.
export function indicatorStrips(detail, { devices, names }, seconds, room) {
  const width = Math.min(Math.max(room, 320), 740);
  const left = width < 480 ? 120 : 160;
  const letters = width < 480 ? 17 : 23;
  const height = devices.length * ROW + 22;
  const x = (time) => left + (Math.min(time, seconds) / seconds) * (width - left - 12);
  const plot = shape("svg", { viewBox: `0 0 ${width} ${height}`, class: "lk-strips", role: "img", "aria-label": names.strips });
  devices.forEach((device, row) => {
    const y = row * ROW + 4;
    plot.append(shape("text", { x: 4, y: y + 13, class: "lk-strip-name" }, `${device.address ?? ""} ${device.name}`.trim().slice(0, letters)));
    strip(plot, detail[device.name].network, seconds, x, y);
  });
  for (let second = 0; second <= seconds; second += seconds > 10 ? 2 : 1)
    plot.append(shape("text", { x: x(second), y: height - 5, class: "lk-axis" }, `${second} s`));
  return plot;
}

function strip(plot, looks, seconds, x, y) {
  looks.forEach(([from, look], k) => {
    const to = k + 1 < looks.length ? looks[k + 1][0] : seconds;
    const [letter, colour] = LOOKS[look] ?? LOOKS.unknown;
    const [x1, x2] = [x(from), x(to)];
    if (x2 - x1 < 1) return;
    const flashing = isFlashing(look) ? " lk-flashing-strip" : "";
    plot.append(shape("rect", { x: x1, y, width: x2 - x1, height: 16, class: `lk-look lk-look-${colour}${flashing}` }));
    const words = SHORT[look] ?? look;
    const text = x2 - x1 > 7 * words.length ? words : x2 - x1 > 10 ? letter : "";
    plot.append(shape("text", { x: (x1 + x2) / 2, y: y + 12, class: `lk-strip-text lk-on-${colour}${flashing ? " lk-on-flashing" : ""}` }, text));
  });
}
