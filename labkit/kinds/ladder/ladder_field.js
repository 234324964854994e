// What an input hangs on, drawn and to be touched: a button or a switch, its wire, and the bit that comes of it.
//
// touch(deed, of, on) is called when something is pressed, broken or unplugged, or undone.

import { button, element, shape } from "./elements.js";
import { named } from "./ladder_lamps.js";

const MOVES = { Enter: true, " ": true };

// 24 V on the left, a contact, its wire, the input on the right.
function wireDrawing() {
  const lever = shape("path", { class: "lk-touch-lever" });
  const wire = shape("path", { class: "lk-touch-wire" });
  const bit = shape("text", { x: 181, y: 27, class: "lk-touch-bit" });
  const svg = shape(
    "svg",
    { viewBox: "0 0 200 44", class: "lk-touch-drawing", "aria-hidden": "true" },
    shape("text", { x: 1, y: 26, class: "lk-touch-volts" }, "24 V"),
    shape("path", { d: "M 34 22 H 56 M 86 22 H 96", class: "lk-touch-wire" }),
    shape("circle", { cx: 58, cy: 22, r: 2.5, class: "lk-touch-pin" }),
    shape("circle", { cx: 84, cy: 22, r: 2.5, class: "lk-touch-pin" }),
    lever,
    wire,
    shape("rect", { x: 168, y: 9, width: 26, height: 26, class: "lk-touch-input" }),
    bit,
  );
  return {
    svg,
    show({ closed, broken, lost, on }) {
      lever.setAttribute("d", closed ? "M 58 22 H 84" : "M 58 22 L 81 9");
      wire.setAttribute("d", broken ? "M 96 22 H 116 M 113 16 L 119 28 M 135 16 L 141 28 M 138 22 H 168" : "M 96 22 H 168");
      svg.classList.toggle("lk-touch-lost", lost);
      bit.textContent = on ? "1" : "0";
    },
  };
}

// Pressed as long as it is held: by a finger, the mouse, Enter or the space bar.
function pushButton(label, touch) {
  const made = element("button", { type: "button", class: "lk-button lk-touch-push", "aria-label": label }, "Press");
  const down = () => touch(true);
  const up = () => touch(false);
  made.addEventListener("pointerdown", down);
  for (const name of ["pointerup", "pointerleave", "pointercancel", "blur"]) made.addEventListener(name, up);
  made.addEventListener("keydown", (event) => {
    if (MOVES[event.key] && !event.repeat) down();
  });
  made.addEventListener("keyup", (event) => {
    if (MOVES[event.key]) up();
  });
  return made;
}

function tick(label, words, touch, attributes = {}) {
  const box = element("input", { type: "checkbox", "aria-label": label, ...attributes });
  box.addEventListener("change", () => touch(box.checked));
  return { box, label: element("label", { class: "lk-switch" }, box, words) };
}

function buttonTools(control, touch) {
  // What is held stays pressed when the finger goes.
  const held = tick(`Hold ${control.id}`, "hold", (on) => press(on));
  const push = pushButton(`Press ${control.id}`, (on) => press(on || held.box.checked));
  function press(on) {
    touch("press", control.id, on);
  }
  return {
    nodes: [push, held.label],
    reset() {
      held.box.checked = false;
    },
  };
}

function switchTools(control, touch) {
  const { box, label } = tick(`Switch ${control.id}`, "on", (on) => touch("press", control.id, on), { role: "switch" });
  return {
    nodes: [label],
    reset() {
      box.checked = false;
    },
  };
}

// A button that does, and undoes when it is pressed again.
function toggle(words, undoWords, touch, of = "") {
  let done = false;
  const made = button("", () => set(!done), { class: "lk-button lk-touch-toggle" });
  function say() {
    made.textContent = done ? undoWords : words;
    if (of) made.setAttribute("aria-label", `${made.textContent} of ${of}`);
  }
  function set(on) {
    if (on === done) return;
    done = on;
    say();
    touch(done);
  }
  say();
  return { node: made, reset: () => set(false) };
}

function wordsOf({ what, closed, broken, lost, device, on }) {
  const bit = `bit ${on ? "on" : "off"}`;
  if (what === "active") return `${device}: ${lost ? "lost" : "there"}, ${bit}`;
  const contact = `contact ${closed ? "closed" : "open"}`;
  if (lost) return `${contact}, device lost, ${bit}`;
  return `${contact}${broken ? ", wire broken" : ""}, ${bit}`;
}

// One input: { node, show(done, image), reset() }; done is a Set of "deed of".
export function fieldInput(operand, control, touch) {
  const state = element("p", { class: "lk-touch-state" });
  const drawing = control.what === "active" ? null : wireDrawing();
  const tools = { active: () => ({ nodes: [], reset() {} }), button: buttonTools, switch: switchTools }[control.what](control, touch);
  const wire = control.breaks
    ? toggle("Break the wire", "Mend the wire", (on) => touch("break", control.id, on), control.id)
    : null;
  const node = element(
    "div",
    { class: "lk-touch-one", role: "group", "aria-label": operand.id },
    named(operand),
    ...(drawing ? [drawing.svg] : []),
    state,
    ...(tools.nodes.length ? [element("div", { class: "lk-touch-tools" }, ...tools.nodes)] : []),
    ...(wire ? [wire.node] : []),
  );
  return {
    node,
    show(done, image) {
      const seen = {
        what: control.what,
        device: control.device,
        closed: done.has(`press ${control.id}`) !== control.closed,
        broken: done.has(`break ${control.id}`),
        lost: done.has(`unplug ${control.device}`),
        on: image[control.id] === true,
      };
      drawing?.show(seen);
      state.textContent = wordsOf(seen);
      node.classList.toggle("lk-touch-on", seen.on);
    },
    reset() {
      tools.reset();
      wire?.reset();
    },
  };
}

// One device that may be unplugged.
export function fieldDevice(device, touch) {
  return toggle(`Unplug the ${device}`, `Plug the ${device} in again`, (on) => touch("unplug", device, on));
}
