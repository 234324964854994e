// The hand meter: two probes, what it measures, and what it shows.

import { button, element } from "./elements.js";

const METER = [
  ["ohms", "Ω", "Resistance"],
  ["volts", "V", "DC volts, bus idle"],
  ["busy volts", "V busy", "DC volts, bus busy"],
];
const PROBES = { red: "+", black: "−" };
const COLOURS = Object.keys(PROBES);
const EARTH = "earth";
const NOTHING = "– – –";

// The connector of a terminal such as "tap 2, left/4".
const connectorOf = (terminal) => terminal.slice(0, terminal.lastIndexOf("/"));

function spoken(terminal, terminals) {
  if (!terminal) return "not placed";
  if (terminal === EARTH) return EARTH;
  const number = Number(terminal[terminal.lastIndexOf("/") + 1]);
  const half = terminal.endsWith("s") ? " (socket)" : "";
  return `${connectorOf(terminal)}, ${number} ${terminals[number - 1][3]}${half}`;
}

function modeButtons(recorded, choose) {
  const modes = METER.filter(([kind]) => !(recorded && kind === "busy volts"));
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

const shown = (entry) => (entry && !entry.refused ? entry.text : NOTHING);

// `parts` holds the terminals of the opened part; spotOf(connector) names its part on the line.
export function handMeter({ view, line, parts, take, spotOf }) {
  const probes = { red: null, black: null };
  let active = "red";
  let mode = "ohms";
  let newest = 0;
  const display = element("output", { class: "lk-display", "aria-live": "polite" }, "–");
  const words = element("p", { class: "lk-probe-text" });
  const modes = modeButtons(view.recorded, (kind) => {
    mode = kind;
    show();
    read();
  });
  const choices = probeButtons((colour) => {
    active = colour;
    show();
  });
  const earth = button("Probe on earth", () => place(EARTH), { "data-terminal": EARTH });
  const again = button("Read again", read);

  function place(terminal) {
    probes[active] = terminal;
    active = active === "red" ? "black" : "red";
    show();
    read();
  }

  async function read() {
    if (!probes.red || !probes.black) return;
    newest += 1;
    const mine = newest;
    display.textContent = "…";
    const entry = await take({ kind: mode, a: probes.red, b: probes.black });
    if (mine === newest) display.textContent = shown(entry);
  }

  const spot = (terminal) => terminal && terminal !== EARTH && spotOf(connectorOf(terminal));

  function show() {
    for (const each of modes.children) each.setAttribute("aria-pressed", String(each.getAttribute("data-meter") === mode));
    for (const each of choices.children) each.setAttribute("aria-pressed", String(each.getAttribute("data-probe") === active));
    words.replaceChildren(
      ...COLOURS.map((colour) => element("span", {}, `${PROBES[colour]} ${spoken(probes[colour], view.terminals)}`)),
    );
    line.showProbes(spot(probes.red), spot(probes.black));
    showOnTerminals(parts, probes);
  }

  // As it was left; returns the part that was measured at, if there is one.
  function takeUp() {
    const last = view.steps.findLastIndex((each) => METER.some(([kind]) => kind === each.kind));
    if (last >= 0) {
      probes.red = view.steps[last].a;
      probes.black = view.steps[last].b;
      mode = view.steps[last].kind;
      display.textContent = shown(view.state.log[last]);
    }
    return spot(probes.black) || spot(probes.red);
  }

  const node = element(
    "div",
    { class: "lk-handmeter" },
    display,
    words,
    choices,
    modes,
    element("div", { class: "lk-modes" }, earth, again),
  );
  return { node, place, show, takeUp };
}
