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

function build(root, { shown, changed, settled, submit }) {
  const { length, pieces, taps } = shown.view;
  const x = (metres) => LEFT + (metres / length) * WIDTH;

  const drawing = shape("svg", {
    viewBox: `0 0 ${WIDTH + 2 * LEFT} 128`,
    class: "lk-trunk",
    "aria-hidden": "true",
  });
  let start = 0;
  for (const piece of pieces) {
    const end = start + piece.length;
    drawing.append(
      shape("line", { x1: x(start), x2: x(end), y1: 64, y2: 64, class: `lk-cable lk-${piece.cable}` }),
      shape("text", { x: (x(start) + x(end)) / 2, y: 16, class: "lk-trunk-note" }, `${piece.cable} ${piece.length} m`),
      shape("line", { x1: x(end), x2: x(end), y1: 22, y2: 64, class: "lk-joint" }),
    );
    start = end;
  }
  drawing.append(shape("line", { x1: x(0), x2: x(0), y1: 22, y2: 64, class: "lk-joint" }));
  let lastText = [-100, -100];
  taps.forEach((tap) => {
    // Two rows of currents, so that taps which stand close do not print over each other.
    const row = x(tap.at) - lastText[0] >= 44 ? 0 : 1;
    lastText[row] = x(tap.at);
    drawing.append(
      shape("line", { x1: x(tap.at), x2: x(tap.at), y1: 64, y2: 80 + row * 18, class: "lk-tap" }),
      shape("text", { x: x(tap.at), y: 94 + row * 18, class: "lk-trunk-note" }, `${tap.current.toFixed(2)} A`),
    );
  });
  const marker = shape("g", { class: "lk-supply" });
  marker.append(
    shape("path", { d: "M 0 60 l -9 -18 h 18 z" }),
    shape("text", { x: 0, y: 38, class: "lk-trunk-note" }, "supply"),
  );
  drawing.append(marker);

  const slider = element("input", {
    type: "range",
    min: 0,
    max: length,
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
  root.append(
    element("div", { class: "lk-scroll" }, drawing, slider),
    element("label", { class: "lk-label" }, "Position from the left end, with its unit", input),
  );

  function follow() {
    const metres = readMetres(input.value);
    const onTrunk = metres !== null && metres <= length;
    marker.style.display = onTrunk ? "" : "none";
    slider.classList.toggle("lk-unset", !onTrunk);
    if (!onTrunk) {
      slider.value = 0;
      return;
    }
    marker.setAttribute("transform", `translate(${x(metres)} 0)`);
    slider.value = metres;
    slider.setAttribute("aria-valuetext", `${metres} m`);
  }

  slider.addEventListener("input", () => {
    input.value = `${slider.value} m`;
    follow();
    changed();
  });
  slider.addEventListener("change", settled);
  input.addEventListener("input", () => {
    follow();
    changed();
  });
  input.addEventListener("change", settled);
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
