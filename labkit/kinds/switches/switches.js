/** @import { Build } from "./frame.js" */

import { element, newToken, shape } from "./elements.js";
import { exercise } from "./frame.js";

const PITCH = 46;
const NARROW = 36; // of more than eight slides, which are to fit a small screen
const LEFT = 52; // room for the words on and off
const TOP = 12;
const HEIGHT = 92;
const KNOB = 34;
const DIAL = 46;

function note(x, y, text, more = "") {
  return shape("text", { x, y, class: `lk-switch-note ${more}` }, text);
}

const COUNT = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];

// --- a block of slide switches: those of the address, then those of the data rate ----------------

const pitchOf = ({ address, rate }) => (address + rate > 8 ? NARROW : PITCH);

function bracket(row, from, to, text) {
  const pitch = pitchOf(row);
  const [left, right] = [LEFT + from * pitch + 6, LEFT + to * pitch - 6];
  const y = TOP + HEIGHT + 26;
  return [
    shape("path", { d: `M ${left} ${y} v 6 H ${right} v -6`, class: "lk-bracket" }),
    note((left + right) / 2, y + 23, text),
  ];
}

function slideCase(row) {
  const { address, rate } = row;
  const positions = address + rate;
  const width = positions * pitchOf(row) + 8;
  return shape(
    "svg",
    { viewBox: `0 0 ${LEFT + width} 164`, class: "lk-dip" },
    shape("rect", { x: LEFT - 4, y: TOP - 6, width, height: HEIGHT + 12, rx: 5, class: "lk-case" }),
    note(LEFT - 26, TOP + 24, "on"),
    note(LEFT - 26, TOP + HEIGHT - 14, "off"),
    ...bracket(row, 0, address, "node address"),
    ...(rate ? bracket(row, address, positions, "data rate") : []),
  );
}

function slide(drawing, pitch, at) {
  const x = LEFT + at * pitch + 8;
  const knob = shape("g", { class: "lk-knob" },
    shape("rect", { x: x + 3, y: TOP + 3, width: pitch - 22, height: KNOB, rx: 2 }),
    ...[10, 17, 24].map((y) => shape("line", { x1: x + 7, x2: x + pitch - 23, y1: TOP + y + 3, y2: TOP + y + 3 })),
  );
  const group = shape("g", { class: "lk-slide" },
    shape("rect", { x, y: TOP, width: pitch - 16, height: HEIGHT, rx: 3, class: "lk-slot" }),
    knob,
    shape("rect", { x: x - 4, y: TOP - 4, width: pitch - 8, height: HEIGHT + 8, rx: 4, class: "lk-ring" }),
  );
  drawing.append(group, note(x + (pitch - 16) / 2, TOP + HEIGHT + 20, String(at + 1), "lk-number"));
  return { group, knob };
}

function slideSwitches(row, setting, turned) {
  let positions = [...setting].map((digit) => digit === "1");
  const drawing = slideCase(row);
  const switches = positions.map((_, at) => slide(drawing, pitchOf(row), at));

  function show() {
    switches.forEach(({ group, knob }, at) => {
      knob.setAttribute("transform", `translate(0 ${positions[at] ? 0 : HEIGHT - KNOB - 6})`);
      group.dataset.on = String(positions[at]);
      if (turned) group.setAttribute("aria-checked", String(positions[at]));
    });
  }

  function turn(at, on) {
    if (positions[at] === on) return;
    positions[at] = on;
    show();
    turned();
  }

  function focus(at) {
    for (const { group } of switches) group.setAttribute("tabindex", group === switches[at].group ? "0" : "-1");
    switches[at].group.focus();
  }

  if (turned) {
    drawing.setAttribute("role", "group");
    drawing.setAttribute("aria-label", `Switch block with ${COUNT[positions.length]} positions; position 1 is on the left`);
    switches.forEach(({ group }, at) => {
      group.setAttribute("role", "switch");
      group.setAttribute("tabindex", at === 0 ? "0" : "-1");
      group.setAttribute("aria-label", `Position ${at + 1}, ${at < row.address ? "node address" : "data rate"}`);
      group.addEventListener("click", () => {
        focus(at);
        turn(at, !positions[at]);
      });
      group.addEventListener("keydown", (event) => {
        const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
        if (step) focus(Math.min(switches.length - 1, Math.max(0, at + step)));
        else if (event.key === "ArrowUp") turn(at, true);
        else if (event.key === "ArrowDown") turn(at, false);
        else if (event.key === " " || event.key === "Enter") turn(at, !positions[at]);
        else return;
        event.preventDefault();
      });
    });
  } else {
    drawing.setAttribute("role", "img");
    const words = positions.map((on, at) => `${at + 1} ${on ? "on" : "off"}`).join(", ");
    drawing.setAttribute("aria-label", `Switch block, position 1 on the left: ${words}`);
  }
  show();
  return {
    drawing,
    get: () => positions.map((on) => (on ? "1" : "0")).join(""),
    set: (text) => {
      positions = [...text].map((digit) => digit === "1");
      show();
    },
    fits: (text) => /^[01]*$/.test(text) && text.length === switches.length,
  };
}

// --- rotary switches ----------------------------------------------------------------------------

const DECADES = ["hundreds", "tens", "ones"];
const SIXTEENS = ["sixteens", "ones"];
const DIGITS = "0123456789ABCDEF";

const upper = (text) => text[0].toUpperCase() + text.slice(1);

const placesOf = (row) => row.places ?? 10;

function dialNames(row) {
  const counted = placesOf(row) > 10 ? SIXTEENS : DECADES;
  return [...counted.slice(-row.address), ...Array(row.rate).fill("data rate")];
}

// The dials of the data rate stand a little apart.
const dialAt = (row, at) => 84 + at * 158 + (at < row.address ? 0 : 34);

function around(x, y, radius, turned) {
  const angle = ((turned - 90) * Math.PI) / 180;
  return [x + radius * Math.cos(angle), y + radius * Math.sin(angle)];
}

function dial(drawing, row, at, turn) {
  const name = dialNames(row)[at];
  const [x, y] = [dialAt(row, at), 78];
  const arrow = shape("path", { d: `M ${x} ${y - DIAL + 6} l 9 16 h -6 v 46 h -6 v -46 h -6 z`, class: "lk-arrow" });
  const group = shape("g", { class: "lk-dial" },
    shape("circle", { cx: x, cy: y, r: DIAL, class: "lk-case" }),
    arrow,
    shape("circle", { cx: x, cy: y, r: DIAL + 4, class: "lk-ring" }),
  );
  const places = placesOf(row);
  const numbers = Array.from({ length: places }, (_, digit) => {
    const [left, top] = around(x, y, DIAL + 17, (digit * 360) / places);
    const text = note(left, top + 5, DIGITS[digit], "lk-number");
    text.addEventListener("click", () => turn(at, digit));
    return text;
  });
  drawing.append(group, ...numbers, note(x, y + DIAL + 50, name));
  return { group, arrow, numbers, x, y };
}

function rotarySwitches(row, setting, turned) {
  const names = dialNames(row);
  const places = placesOf(row);
  let digits = [...setting].map((digit) => DIGITS.indexOf(digit));
  const drawing = shape("svg", { viewBox: `0 0 ${dialAt(row, names.length - 1) + 86} 186`, class: "lk-rotary" });
  const dials = names.map((_, at) => dial(drawing, row, at, turn));

  function show() {
    dials.forEach(({ group, arrow, numbers, x, y }, at) => {
      arrow.setAttribute("transform", `rotate(${(digits[at] * 360) / places} ${x} ${y})`);
      for (const [digit, text] of numbers.entries()) text.classList.toggle("lk-pointed", digit === digits[at]);
      if (!turned) return;
      group.setAttribute("aria-valuenow", String(digits[at]));
      if (places > 10) group.setAttribute("aria-valuetext", DIGITS[digits[at]]);
    });
  }

  function turn(at, digit) {
    const wanted = (digit + places) % places;
    if (!turned || digits[at] === wanted) return;
    digits[at] = wanted;
    show();
    turned();
  }

  if (turned) {
    drawing.setAttribute("role", "group");
    drawing.setAttribute("aria-label", `${upper(COUNT[names.length])} rotary switches`);
    drawing.classList.add("lk-turnable");
    dials.forEach(({ group }, at) => {
      group.setAttribute("role", "slider");
      group.setAttribute("tabindex", "0");
      group.setAttribute("aria-label", at < row.address ? `${upper(names[at])} of the node address` : "Data rate");
      group.setAttribute("aria-valuemin", "0");
      group.setAttribute("aria-valuemax", String(places - 1));
      group.addEventListener("click", () => {
        group.focus();
        turn(at, digits[at] + 1);
      });
      group.addEventListener("keydown", (event) => {
        const step = { ArrowUp: 1, ArrowRight: 1, " ": 1, ArrowDown: -1, ArrowLeft: -1 }[event.key];
        if (event.ctrlKey || event.altKey || event.metaKey) return;
        if (step) turn(at, digits[at] + step);
        else if (event.key.length === 1 && DIGITS.slice(0, places).includes(event.key.toUpperCase())) {
          turn(at, DIGITS.indexOf(event.key.toUpperCase()));
        }
        else return;
        event.preventDefault();
      });
    });
  } else {
    drawing.setAttribute("role", "img");
    drawing.setAttribute("aria-label", `Rotary switches: ${names.map((name, at) => `${name} at ${DIGITS[digits[at]]}`).join(", ")}`);
  }
  show();
  return {
    drawing,
    get: () => digits.map((digit) => DIGITS[digit]).join(""),
    set: (text) => {
      digits = [...text].map((digit) => DIGITS.indexOf(digit));
      show();
    },
    fits: (text) => [...text].every((digit) => DIGITS.slice(0, places).includes(digit)) && text.length === names.length,
  };
}

// --- the exercise -------------------------------------------------------------------------------

const HELP_SLIDES = "Click a position, or use ← → and the space bar.";
const HELP_DIALS = "Click a number, or use Tab and the arrow keys.";
const MANUAL = "A common layout: a device's own manual decides. It reads its switches at power-up.";

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const { task, setting } = shown.ask;
  const { row } = shown.view;
  const make = row.slides ? slideSwitches : rotarySwitches;
  root.addEventListener("keydown", (event) => event.stopPropagation());
  if (task === "set") {
    const switches = make(row, setting, () => {
      changed();
      settled();
    });
    root.append(
      element("div", { class: "lk-switches" }, switches.drawing),
      element("p", { class: "lk-help" }, `${row.slides ? HELP_SLIDES : HELP_DIALS} ${MANUAL}`),
    );
    return {
      get: switches.get,
      set: (answer) => switches.set(typeof answer === "string" && switches.fits(answer) ? answer : setting),
    };
  }
  root.append(
    element("div", { class: "lk-switches" }, make(row, setting, null).drawing),
    element("p", { class: "lk-help" }, MANUAL),
  );
  return task === "rate" ? rateChoice(root, shown, changed, settled) : addressLine(root, changed, settled, submit);
}

function rateChoice(root, shown, changed, settled) {
  const name = `lk-rate-${newToken()}`;
  const inputs = shown.view.rates.map(([rate]) => {
    const input = element("input", { type: "radio", name, value: rate });
    input.addEventListener("change", () => {
      changed();
      settled();
    });
    return input;
  });
  const labels = inputs.map((input, at) =>
    element("label", { class: "lk-option" }, input, element("span", {}, shown.view.rates[at][1])),
  );
  root.append(element("div", { class: "lk-rates", role: "radiogroup", "aria-label": "Data rate" }, ...labels));
  return {
    get: () => inputs.find((input) => input.checked)?.value ?? "",
    set(answer) {
      for (const input of inputs) input.checked = input.value === String(answer);
    },
  };
}

function addressLine(root, changed, settled, submit) {
  const input = element("input", {
    type: "text",
    inputmode: "numeric",
    class: "lk-input lk-node-address",
    maxlength: 20,
    autocomplete: "off",
  });
  root.append(element("label", { class: "lk-label" }, "Node address", input));
  input.addEventListener("input", changed);
  input.addEventListener("change", settled);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") submit();
  });
  return {
    get: () => input.value.trim(),
    set: (answer) => {
      input.value = typeof answer === "string" ? answer : "";
    },
  };
}

export default { render: exercise(build) };
