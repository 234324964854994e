/** @import { Build } from "./frame.js" */

import { element, shape } from "./elements.js";
import { exercise } from "./frame.js";

// Room at both ends for half of the word under the marker.
const LEFT = 32;
const WIDTH = 736;

function readMetres(text) {
  // Only to move the marker along with what is typed; Python reads the answer itself.
  const match = /^\s*(\d+(?:[.,]\d+)?)\s*m?\s*$/.exec(text);
  return match ? Number(match[1].replace(",", ".")) : null;
}

// The trunk to scale, x(metres) from its left end.
function drawTrunk(drawing, pieces, x) {
  const joint = (at) => shape("line", { x1: at, x2: at, y1: 22, y2: 64, class: "lk-joint" });
  let start = 0;
  for (const { cable, length } of pieces) {
    const [from, to] = [x(start), x(start + length)];
    drawing.append(
      shape("line", { x1: from, x2: to, y1: 64, y2: 64, class: `lk-cable lk-${cable}` }),
      shape("text", { x: (from + to) / 2, y: 16, class: "lk-trunk-note" }, `${cable} ${length} m`),
      joint(to),
    );
    start += length;
  }
  drawing.append(joint(x(0)));
}

function drawTaps(drawing, taps, x) {
  const lastText = [-100, -100];
  for (const tap of taps) {
    // Two rows of currents, so that taps which stand close do not print over each other.
    const row = x(tap.at) - lastText[0] >= 44 ? 0 : 1;
    lastText[row] = x(tap.at);
    drawing.append(
      shape("line", { x1: x(tap.at), x2: x(tap.at), y1: 64, y2: 80 + row * 18, class: "lk-tap" }),
      shape("text", { x: x(tap.at), y: 94 + row * 18, class: "lk-trunk-note" }, `${tap.current.toFixed(2)} A`),
    );
  }
}

function supplyMarker() {
  return shape(
    "g",
    { class: "lk-supply" },
    shape("path", { d: "M 0 60 l -9 -18 h 18 z" }),
    shape("text", { x: 0, y: 38, class: "lk-trunk-note" }, "supply"),
  );
}

function positionFields(shown) {
  const slider = element("input", {
    type: "range",
    min: 0,
    max: shown.view.length,
    step: 0.5,
    class: "lk-slider",
    "aria-label": "Position of the supply in metres from the left end",
  });
  const input = element("input", {
    type: "text",
    class: "lk-input",
    placeholder: shown.view.form,
    autocomplete: "off",
    maxlength: 60,
  });
  return { slider, input };
}

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const { length, pieces, taps } = shown.view;
  const x = (metres) => LEFT + (metres / length) * WIDTH;
  const drawing = shape("svg", { viewBox: `0 0 ${WIDTH + 2 * LEFT} 128`, class: "lk-trunk", "aria-hidden": "true" });
  const marker = supplyMarker();
  const { slider, input } = positionFields(shown);
  drawTrunk(drawing, pieces, x);
  drawTaps(drawing, taps, x);
  drawing.append(marker);
  root.append(
    element("div", { class: "lk-scroll" }, drawing, slider),
    element("label", { class: "lk-label" }, "Position from the left end, with its unit", input),
  );

  function follow() {
    const metres = readMetres(input.value);
    const onTrunk = metres !== null && metres <= length;
    marker.style.display = onTrunk ? "" : "none";
    slider.classList.toggle("lk-unset", !onTrunk);
    slider.value = onTrunk ? String(metres) : "0";
    if (!onTrunk) return;
    marker.setAttribute("transform", `translate(${x(metres)} 0)`);
    slider.setAttribute("aria-valuetext", `${metres} m`);
  }

  function moved() {
    follow();
    changed();
  }

  slider.addEventListener("input", () => {
    input.value = `${slider.value} m`;
    moved();
  });
  input.addEventListener("input", moved);
  for (const field of [slider, input]) field.addEventListener("change", settled);
  root.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Enter" && event.target === input) submit();
  });
  follow();
  return {
    get: () => input.value,
    set: (answer) => {
      input.value = typeof answer === "string" ? answer : "";
      follow();
    },
  };
}

export default { render: exercise(build) };
