// The scope's picture: the signal pair and its difference over the time, with cursors to read it by.
// A picture can be kept, so that the next one, from another place or after a repair, comes beside it.

import { axisTicks, bitText, figure, rateText, voltAt } from "./scope_figures.js";
import { button, element, shape } from "./elements.js";

/** What is drawn, each with its words. @returns {[name: string, words: string, how: string][]} */
const tracesOf = ([high, low]) => [
  ["can_h", high, "solid"],
  ["can_l", low, "dashed"],
  ["difference", "difference", "dotted"],
];
const STEPS_A_BIT = 40; // the least that a time cursor moves
const VOLT_STEP = 0.05;
const HANDLE = 24;
const FIGURES = 310; // beside the picture, where there is room

/** Promises nothing of the bench: scope(pair) returns what draws an entry as wide as `room`. */
export function scope(pair) {
  let kept = null;
  const every = tracesOf(pair);
  const seen = new Set(every.map(([name]) => name));

  return (entry, room) => {
    const now = pictureOf(entry);
    const plot = scopePlot(now, kept, every, seen, Math.max(room < 640 ? room : room - FIGURES, 300));
    const keep = button("Keep beside the next one", turn, { class: "lk-button lk-small", "aria-pressed": "false" });
    const told = element("p", { class: "lk-caption lk-kept", role: "status" });

    function turn() {
      kept = kept === now ? null : now;
      keep.setAttribute("aria-pressed", String(kept === now));
      told.textContent = kept ? `Kept: ${kept.words} (${kept.when})` : "";
    }

    if (kept) told.textContent = `Thin: ${kept.words} (${kept.when}). Both begin ${now.bits[0] === null ? "a bit before the first one" : "with the first bit"} that is sent.`;
    return element("div", { class: "lk-scope-box" }, plot.picture, element("div", {}, plot.figures, keep, told));
  };
}

function pictureOf({ detail, words, then, text, number }) {
  const difference = detail.can_h.map((volt, k) => volt - detail.can_l[k]);
  return { ...detail, difference, words, text, when: `step ${number}, ${then}` };
}

function scopePlot(now, kept, every, seen, width) {
  const frame = frameOf(now, kept, width);
  const picture = shape("svg", {
    viewBox: `0 0 ${width} ${frame.height}`,
    class: "lk-scope",
    role: "group",
    "aria-label": `${now.words}: ${now.text}`,
  });
  const traces = shape("g", {});
  const { bit } = frame;
  // On the first bit that is sent, and between what is at rest and what is driven.
  const cursors = [
    cursor(frame, { name: "Time cursor 1", across: false, at: bit, moved }),
    cursor(frame, { name: "Time cursor 2", across: false, at: 2 * bit, moved }),
    cursor(frame, { name: "Level cursor A", across: true, at: 0, moved }),
    cursor(frame, { name: "Level cursor B", across: true, at: 2, moved }),
  ];
  const figures = scopeFigures(now, kept === now ? null : kept, every, seen, show);

  function moved() {
    figures.show(...cursors.map(({ at }) => at()));
  }

  function show() {
    traces.replaceChildren(
      ...[kept, now].filter(Boolean).flatMap((each) =>
        every.filter(([name]) => seen.has(name)).map(([name]) => wave(frame, each, name, each === kept && each !== now)),
      ),
    );
    moved();
  }

  picture.append(drawAxes(frame, now.bits), traces, ...cursors.map(({ node }) => node));
  show();
  return { picture, figures: figures.node };
}

// Where things stand in the picture, and times and volts as places in it.
function frameOf(now, kept, width) {
  const [left, right, top, bottom] = [40, width - 12, 26, 164];
  const every = [now, kept].filter(Boolean).flatMap(({ can_h, can_l, difference }) => [...can_h, ...can_l, ...difference]);
  const low = Math.min(-1, Math.floor(Math.min(...every)));
  const high = Math.max(4, Math.ceil(Math.max(...every)));
  const last = now.us[now.us.length - 1];
  return {
    left, right, top, bottom, low, high, last, height: 200,
    bit: last / (now.bits.length + 1),
    x: (us) => left + (us / last) * (right - left),
    y: (volt) => top + ((high - volt) / (high - low)) * (bottom - top),
    us: (x) => ((x - left) / (right - left)) * last,
    volt: (y) => high - ((y - top) / (bottom - top)) * (high - low),
  };
}

function drawAxes(frame, bits) {
  const picture = shape("g", { "aria-hidden": "true" });
  const { left, right, top, bottom, low, high, last, bit, x, y } = frame;
  for (const volt of axisTicks(low, high, 6))
    picture.append(
      shape("line", { x1: left, x2: right, y1: y(volt), y2: y(volt), class: volt === 0 ? "lk-zero" : "lk-grid" }),
      shape("text", { x: left - 6, y: y(volt) + 4, class: "lk-axis lk-axis-left" }, `${volt} V`),
    );
  for (const us of axisTicks(0, last, right - left < 400 ? 6 : 11))
    picture.append(
      shape("line", { x1: x(us), x2: x(us), y1: top, y2: bottom, class: "lk-grid" }),
      shape("text", { x: x(us), y: bottom + 14, class: "lk-axis" }, String(us)),
    );
  bits.forEach((level, k) => {
    picture.append(shape("text", { x: x((k + 0.5) * bit), y: bottom + 30, class: "lk-axis" }, bitText(level)));
  });
  picture.append(shape("text", { x: left - 6, y: bottom + 30, class: "lk-axis lk-axis-left" }, "bits"));
  picture.append(shape("text", { x: left - 6, y: bottom + 14, class: "lk-axis lk-axis-left" }, "µs"));
  return picture;
}

function wave({ x, y }, picture, name, thin) {
  const points = picture[name].map((volt, k) => `${x(picture.us[k]).toFixed(1)},${y(volt).toFixed(1)}`).join(" ");
  return shape("polyline", { points, class: `lk-wave lk-wave-${name}${thin ? " lk-wave-kept" : ""}` });
}

// A line to read by: drawn with a finger or a mouse, or moved with the arrow keys.
function cursor(frame, { name, across, at, moved }) {
  const step = across ? VOLT_STEP : frame.bit / STEPS_A_BIT;
  const [low, high] = across ? [frame.low, frame.high] : [0, frame.last];
  const far = across ? 10 : STEPS_A_BIT; // half a volt, or a bit
  const unit = across ? "V" : "µs";
  const [x1, x2] = across ? [frame.left, frame.right] : [0, 0];
  const [y1, y2] = across ? [0, 0] : [frame.top, frame.bottom];
  const [handleX, handleY] = across ? [frame.right - HANDLE / 2, -HANDLE / 2] : [-HANDLE / 2, frame.top - HANDLE];
  const node = shape(
    "g",
    {
      class: "lk-cursor",
      tabindex: 0,
      role: "slider",
      "aria-label": name,
      "aria-orientation": across ? "vertical" : "horizontal",
      "aria-valuemin": low,
      "aria-valuemax": high.toFixed(2),
    },
    shape("line", { x1, x2, y1, y2, class: "lk-cursor-line" }),
    shape("rect", { x: handleX, y: handleY, width: HANDLE, height: HANDLE, class: "lk-hit" }),
    shape("rect", { x: handleX + 4, y: handleY + 4, width: HANDLE - 8, height: HANDLE - 8, rx: 3, class: "lk-cursor-handle" }),
    shape("text", { x: handleX + HANDLE / 2, y: handleY + HANDLE / 2 + 4, class: "lk-cursor-name", "aria-hidden": "true" }, name.at(-1)),
  );
  let value = at;

  function put(wanted) {
    value = Math.min(Math.max(Math.round(wanted / step) * step, low), high);
    node.setAttribute("transform", across ? `translate(0 ${frame.y(value)})` : `translate(${frame.x(value)} 0)`);
    node.setAttribute("aria-valuenow", value.toFixed(2));
    node.setAttribute("aria-valuetext", `${figure(value)} ${unit}`);
  }

  function drag(event) {
    const onScreen = node.ownerSVGElement?.getScreenCTM();
    if (!onScreen) return;
    const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(onScreen.inverse());
    put(across ? frame.volt(place.y) : frame.us(place.x));
    moved();
  }

  node.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    node.setPointerCapture(event.pointerId);
    node.focus();
  });
  node.addEventListener("pointermove", (event) => node.hasPointerCapture(event.pointerId) && drag(event));
  node.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -far, PageUp: far }[event.key];
    const end = { Home: low, End: high }[event.key];
    if (by === undefined && end === undefined) return;
    event.preventDefault();
    put(end ?? value + by * step);
    moved();
  });
  put(at);
  return { node, at: () => value };
}

// What the cursors say: times, volts of each trace there, and the levels; a trace is shown or not.
function scopeFigures(now, kept, every, seen, show) {
  const cells = (row) => Array.from({ length: 3 }, () => row.appendChild(element("td", {})));
  const row = (...words) => element("tr", {}, element("th", { scope: "row" }, ...words));
  const [time, bit, levels] = [row("time, µs"), row("Δt as one bit"), row("levels A, B, V")];
  const [times, volts] = [cells(time), cells(levels)];
  const rate = bit.appendChild(element("td", { colspan: 3 }));
  const waves = [now, kept].filter(Boolean).flatMap((picture) =>
    every.map((trace) => {
      const line = row(picture === now ? traceChoice(trace, seen, show) : `${trace[1]}, kept, V`);
      return { line, name: trace[0], picture, cells: cells(line) };
    }),
  );
  const heads = ["cursor", "1", "2", "2 − 1"].map((words) => element("th", { scope: "col" }, words));
  const lines = [time, bit, ...waves.map(({ line }) => line), levels];
  const node = element("table", { class: "lk-figures" }, element("thead", {}, element("tr", {}, ...heads)), element("tbody", {}, ...lines));

  function fill(places, one, two) {
    [one, two, two - one].forEach((value, k) => {
      places[k].textContent = figure(value);
    });
  }

  return {
    node,
    show(one, two, a, b) {
      fill(times, one, two);
      rate.textContent = rateText(two - one);
      fill(volts, a, b);
      for (const { line, name, picture, cells } of waves) {
        line.classList.toggle("lk-unseen", !seen.has(name));
        fill(cells, voltAt(picture.us, picture[name], one), voltAt(picture.us, picture[name], two));
      }
    },
  };
}

function traceChoice([name, words, how], seen, show) {
  const box = element("input", { type: "checkbox", checked: seen.has(name) });
  box.addEventListener("change", () => {
    if (box.checked) seen.add(name);
    else seen.delete(name);
    show();
  });
  return element("label", { class: `lk-key lk-key-${name}` }, box, `${words}, V (${how})`);
}
