// The hand meter: two probes, what it measures, and what it shows. A reading stands while nothing changes.

import { COLOURS, PROBES, probePair } from "./bench_probes.js";
import { lastChange } from "./bench_steps.js";
import { button, element } from "./elements.js";

const METER = [
  ["ohms", "Ω", "Resistance"],
  ["volts", "V", "DC volts, bus idle"],
  ["busy volts", "V busy", "DC volts, bus busy"],
];
const EARTH = "earth";
const NOTHING = "– – –";
const AGAIN = "measure again";

// The connector of a terminal such as "tap 2, left/4".
const connectorOf = (terminal) => terminal.slice(0, terminal.lastIndexOf("/"));

function spoken(terminal, terminals) {
  if (!terminal) return "not placed";
  if (terminal === EARTH) return EARTH;
  const number = Number(terminal[terminal.lastIndexOf("/") + 1]);
  const half = terminal.endsWith("s") ? " (socket)" : "";
  return `${connectorOf(terminal)}, ${number} ${terminals[number - 1][3]}${half}`;
}

function modeButtons({ recorded, costs }, choose) {
  const modes = METER.filter(([kind]) => kind in costs && !(recorded && kind === "busy volts"));
  return element(
    "div",
    { class: "lk-modes", role: "group", "aria-label": "Meter" },
    ...modes.map(([kind, label, words]) =>
      button(label, () => choose(kind), {
        class: "lk-button lk-mode",
        title: words,
        "aria-label": words,
        "data-meter": kind,
      }),
    ),
  );
}

function probeButtons(choose) {
  return element(
    "div",
    { class: "lk-modes", role: "group", "aria-label": "Probe to place next" },
    ...COLOURS.map((colour) =>
      button(`${PROBES[colour]} ${colour} probe`, () => choose(colour), {
        class: `lk-button lk-mode lk-probe-${colour}`,
        "data-probe": colour,
      }),
    ),
  );
}

// Which terminals of the opened part carry a probe.
function showOnTerminals(parts, probes) {
  for (const terminal of parts.querySelectorAll("[data-terminal]")) {
    const here = COLOURS.filter((colour) => probes[colour] === terminal.dataset.terminal);
    terminal.querySelector(".lk-here").textContent = here.map((colour) => PROBES[colour]).join("");
    const words = [terminal.dataset.words, ...here.map((colour) => `${colour} probe here`)];
    terminal.setAttribute("aria-label", words.join(", "));
  }
}

function shown(entry) {
  if (entry?.stale) return AGAIN;
  return entry && !entry.refused ? entry.text : NOTHING;
}

// What the meter shows: a reading, or words, which are smaller.
function meterDisplay() {
  const node = element("output", { class: "lk-display lk-no-reading", "aria-live": "polite" }, "–");

  function says(text, isReading = false) {
    node.textContent = text;
    node.classList.toggle("lk-no-reading", !isReading);
  }

  return {
    node,
    says,
    reads: (entry) => says(shown(entry), Boolean(entry) && !entry.refused && !entry.stale),
    // A reading on its way says for itself whether it still holds.
    blank() {
      if (!node.classList.contains("lk-no-reading") || node.textContent === NOTHING) says(AGAIN);
    },
  };
}

// `parts` holds the terminals of the opened part; spotOf(connector) names its part on the line.
export function handMeter({ view, line, parts, take, spotOf }) {
  const probes = probePair();
  const { at } = probes;
  const display = meterDisplay();
  const words = element("p", { class: "lk-probe-text" });
  let mode = "ohms";
  let newest = 0;
  const modes = modeButtons(view, (kind) => {
    mode = kind;
    show();
    read();
  });
  const choices = probeButtons((colour) => {
    probes.choose(colour);
    show();
  });

  function place(terminal) {
    newest += 1; // what is being read is of another place
    const reads = probes.put(terminal);
    show();
    if (reads) read();
    else display.says(`now ${PROBES[probes.next()]} ${probes.next()}`);
  }

  async function read() {
    const missing = probes.missing();
    if (missing) return display.says(`first ${PROBES[missing]} ${missing}`);
    newest += 1;
    const mine = newest;
    probes.isRead();
    display.says("…");
    const entry = await take({ kind: mode, a: at.red, b: at.black });
    if (mine === newest) display.reads(entry);
  }

  const spot = (terminal) => terminal && terminal !== EARTH && spotOf(connectorOf(terminal));

  function show() {
    for (const each of modes.children) each.setAttribute("aria-pressed", String(each.getAttribute("data-meter") === mode));
    for (const each of choices.children) each.setAttribute("aria-pressed", String(each.getAttribute("data-probe") === probes.next()));
    words.replaceChildren(...COLOURS.map((colour) => element("span", {}, `${PROBES[colour]} ${spoken(at[colour], view.terminals)}`)));
    line.showProbes(spot(at.red), spot(at.black));
    showOnTerminals(parts, at);
  }

  // As it was left; returns the part that was measured at, if there is one.
  function takeUp() {
    const last = view.steps.findLastIndex((each) => METER.some(([kind]) => kind === each.kind));
    if (last >= 0) {
      at.red = view.steps[last].a;
      at.black = view.steps[last].b;
      mode = view.steps[last].kind;
      display.reads({ ...view.state.log[last], stale: lastChange(view.state.log) > last });
    }
    return spot(at.black) || spot(at.red);
  }

  const keys = [button("Probe on earth", () => place(EARTH), { "data-terminal": EARTH }), button("Read", read)];
  return { node: meterBox(display.node, words, modes, choices, ...keys), place, show, takeUp, blank: display.blank };
}

function meterBox(display, words, ...keys) {
  return element(
    "div",
    { class: "lk-handmeter", role: "group", "aria-label": "Hand meter" },
    display,
    words,
    element("div", { class: "lk-handmeter-keys" }, ...keys),
  );
}
