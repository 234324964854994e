// Pictures of what the bench's instruments show: the scope's traces, and indicators over time.

import { LOOKS } from "./bench_lamps.js";
import { element, shape } from "./elements.js";

const SHORT = { "flashing red and green": "flash red+green", "flashing green": "flash green", "flashing red": "flash red" };

export function scopePlot(detail, title) {
  const [width, height, left, top] = [820, 250, 46, 14];
  const plotWidth = width - left - 14;
  const plotHeight = height - top - 34;
  const difference = detail.can_h.map((volt, k) => volt - detail.can_l[k]);
  const all = [...detail.can_h, ...detail.can_l, ...difference];
  const low = Math.min(0, Math.floor(Math.min(...all)));
  const high = Math.max(4, Math.ceil(Math.max(...all)));
  const last = detail.us[detail.us.length - 1];
  const x = (us) => left + (us / last) * plotWidth;
  const y = (volt) => top + ((high - volt) / (high - low)) * plotHeight;
  const plot = shape("svg", { viewBox: `0 0 ${width} ${height}`, class: "lk-scope", role: "img", "aria-label": title });
  const every = Math.max(1, Math.ceil((high - low) / 8));
  for (let volt = low; volt <= high; volt += every) {
    plot.append(
      shape("line", { x1: left, x2: width - 14, y1: y(volt), y2: y(volt), class: volt === 0 ? "lk-zero" : "lk-grid" }),
      shape("text", { x: left - 6, y: y(volt) + 4, class: "lk-axis lk-axis-left" }, `${volt} V`),
    );
  }
  const bit = last / (detail.bits.length + 1);
  detail.bits.forEach((level, k) => {
    plot.append(
      shape("line", { x1: x(k * bit), x2: x(k * bit), y1: top, y2: top + plotHeight, class: "lk-grid" }),
      shape("text", { x: x((k + 0.5) * bit), y: height - 18, class: "lk-axis" }, level ? "1" : "0"),
    );
  });
  plot.append(shape("text", { x: left + plotWidth / 2, y: height - 3, class: "lk-axis" }, `bits as sent; each ${+bit.toFixed(2)} µs`));
  for (const [name, volts] of [["can_h", detail.can_h], ["can_l", detail.can_l], ["difference", difference]]) {
    const points = volts.map((volt, k) => `${x(detail.us[k]).toFixed(1)},${y(volt).toFixed(1)}`).join(" ");
    plot.append(shape("polyline", { points, class: `lk-wave lk-wave-${name}` }));
  }
  const legend = element(
    "p",
    { class: "lk-legend" },
    element("span", { class: "lk-key lk-key-can_h" }, "CAN_H (solid)"),
    element("span", { class: "lk-key lk-key-can_l" }, "CAN_L (dashed)"),
    element("span", { class: "lk-key lk-key-difference" }, "difference (dotted)"),
  );
  return element("div", {}, plot, legend);
}

export function indicatorStrips(detail, devices, seconds) {
  const rowHeight = 22;
  const [left, width] = [190, 820];
  const height = devices.length * rowHeight + 26;
  const x = (time) => left + (Math.min(time, seconds) / seconds) * (width - left - 10);
  const plot = shape("svg", { viewBox: `0 0 ${width} ${height}`, class: "lk-strips", role: "img", "aria-label": "Network status indicator of every device over time" });
  devices.forEach((device, row) => {
    const y = row * rowHeight + 4;
    plot.append(shape("text", { x: 0, y: y + 13, class: "lk-strip-name" }, `${device.address} ${device.name}`.slice(0, 26)));
    const looks = detail[device.name].network;
    looks.forEach(([from, look], k) => {
      const to = k + 1 < looks.length ? looks[k + 1][0] : seconds;
      const [letter, colour] = LOOKS[look] ?? LOOKS.unknown;
      const [x1, x2] = [x(from), x(to)];
      if (x2 - x1 < 1) return;
      const flashing = look.startsWith("flashing") ? " lk-flashing-strip" : "";
      plot.append(shape("rect", { x: x1, y, width: x2 - x1, height: 16, class: `lk-look lk-look-${colour}${flashing}` }));
      const words = SHORT[look] ?? look;
      const text = x2 - x1 > 7 * words.length ? words : x2 - x1 > 10 ? letter : "";
      plot.append(shape("text", { x: (x1 + x2) / 2, y: y + 12, class: `lk-strip-text lk-on-${colour}${flashing ? " lk-on-flashing" : ""}` }, text));
    });
  });
  for (let second = 0; second <= seconds; second += 1)
    plot.append(shape("text", { x: x(second), y: height - 6, class: "lk-axis" }, `${second} s`));
  return plot;
}
