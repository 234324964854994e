import { frameLog, indicatorStrips, scopePlot } from "./bench_instruments.js";
import { benchLine } from "./bench_line.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";
import { lookBack } from "./look_back.js";

const METER = [
  ["ohms", "Ω", "Resistance"],
  ["volts", "V", "DC volts, bus idle"],
  ["busy volts", "V busy", "DC volts, bus busy"],
];
const CAUTION =
  "On a real network: follow the local rules; work on live parts and on machines that can start is for those who " +
  "are trained and permitted. Switch off, secure, check that it is dead before you open a connector. Loading a scan list " +
  "can stop and start outputs: the people at the machine must know first.";

// Repairs by their kind, as the buttons and the list of an assessed class name them.
const REPAIRS = {
  land: "Make the connector anew",
  "part from earth": "Free the shield from earth",
  "fit terminator": "Fit a terminator",
  "remove terminator": "Take the terminator away",
  "set switches": "Set the switches",
  "replace device": "Replace the device",
  "turn supply": "Exchange V+ and V−",
  "replace supply": "Replace the supply",
  "replace cable": "Lay the cable anew",
  download: "Load the planned scan list",
};
const MEASURED = ["ohms", "volts", "busy volts", "look", "supply current", "indicators", "scanner report", "frame log", "scope"];
const STEPS_TOLD = 160;
const SLOW_AFTER_MS = 400;
const PATIENCE_MS = 20000;

function build(root, { shown, changed, settled, step }) {
  const { view } = shown;
  let state = view.state;
  const steps = view.steps; // kept in place: a view that is made anew from the same model finds them
  const planned = []; // the repairs named in an assessed class
  const probes = { red: null, black: null };
  let active = "red";
  let meter = "ohms";
  let pending = 0;
  let newest = 0;

  const connectorsOf = (socket) =>
    view.connectors.filter((c) => c.socket === socket || c.id === socket);
  const socketOf = new Map(view.connectors.map((c) => [c.id, c.socket]));

  // ---- the frame of the bench
  const clock = element("meter", { min: 0, max: view.budget, class: "lk-clock", "aria-label": "Minutes used" });
  const clockText = element("span", { class: "lk-clock-text" });
  const power = element("button", { type: "button", class: "lk-button lk-power", role: "switch" });
  const line = benchLine(view, open);
  const parts = element("div", { class: "lk-parts" });
  const display = element("output", { class: "lk-display", "aria-live": "polite" }, "–");
  const probeText = element("p", { class: "lk-probe-text" });
  // Only the sentence is read out: a log has hundreds of lines.
  const told = element("p", { class: "lk-result-text", role: "status" });
  const pictures = element("div", {});
  const result = element("div", { class: "lk-result" }, told, pictures);
  const history = element("ol", { class: "lk-history" });
  const trouble = element("p", { class: "lk-refusal", role: "alert", hidden: true });
  const working = element("span", { class: "lk-caption", role: "status" });

  const meterModes = element(
    "div",
    { class: "lk-modes", role: "group", "aria-label": "Meter" },
    ...METER.filter(([kind]) => !(view.recorded && kind === "busy volts")).map(([kind, label, words]) => {
      const button = element("button", { type: "button", class: "lk-button lk-mode", title: words, "aria-label": words, "data-meter": kind }, label);
      button.addEventListener("click", () => {
        meter = kind;
        showMeter();
        read();
      });
      return button;
    }),
  );
  const probeButtons = element(
    "div",
    { class: "lk-modes", role: "group", "aria-label": "Probe to place next" },
    ...["red", "black"].map((colour) => {
      const sign = colour === "red" ? "+ red" : "− black";
      const button = element("button", { type: "button", class: `lk-button lk-mode lk-probe-${colour}`, "data-probe": colour }, `${sign} probe`);
      button.addEventListener("click", () => {
        active = colour;
        showMeter();
      });
      return button;
    }),
  );
  const earth = element("button", { type: "button", class: "lk-button", "data-terminal": "earth" }, "Probe on earth");
  earth.addEventListener("click", () => place("earth"));
  const again = element("button", { type: "button", class: "lk-button" }, "Read again");
  again.addEventListener("click", read);

  const devices = view.devices.map((device) => device.name);
  const listener = choice("Log at", devices, view.scanner);
  const probed = choice("Scope at", devices, devices[devices.length - 1]);
  const talker = choice("while this one sends", devices, view.scanner);
  const watched = choice("for", view.watches_s.map((seconds) => `${seconds} s`), `${view.watches_s[0]} s`);
  watched.input.setAttribute("aria-label", "How long the indicators are watched");
  const watchSeconds = () => view.watches_s[watched.input.selectedIndex];
  const watch = element(
    "div",
    { class: "lk-watch" },
    element("span", { class: "lk-together" }, tool("Watch the indicators", () => ({ kind: "indicators", seconds: watchSeconds() })), watched.label),
    tool("Ask the scanner", () => ({ kind: "scanner report" })),
    ...view.supplies.map((supply) => tool(`Current of ${supply}`, () => ({ kind: "supply current", supply }))),
    element("span", { class: "lk-together" }, view.recorded ? "" : listener.label, tool("Log the frames", () => ({ kind: "frame log", listener: listener.input.value }))),
    view.recorded
      ? ""
      : element("span", { class: "lk-together" }, probed.label, talker.label, tool("Scope", () => ({ kind: "scope", device: probed.input.value, talker: talker.input.value }))),
  );

  power.addEventListener("click", () => take({ kind: state.power ? "power off" : "power on" }));
  root.append(
    element("p", { class: "lk-bench-caution" }, `⚠ ${CAUTION}`),
    element("div", { class: "lk-bench-head" }, power, element("span", { class: "lk-clock-box" }, clock, clockText), working),
    element("div", { class: "lk-whole-line" }, line.picture),
    trouble,
    element(
      "div",
      { class: "lk-bench-body" },
      element("div", { class: "lk-opened" }, parts),
      element("div", { class: "lk-handmeter" }, display, probeText, probeButtons, meterModes, element("div", { class: "lk-modes" }, earth, again)),
    ),
    watch,
    result,
    element("details", { class: "lk-past" }, element("summary", {}, "What you did so far"), history),
  );

  // ---- steps
  async function take(data) {
    pending += 1;
    const slow = setTimeout(() => (working.textContent = "Working it out …"), SLOW_AFTER_MS);
    root.classList.add("lk-busy");
    trouble.hidden = true;
    try {
      const reply = await step(data, PATIENCE_MS);
      steps.push(reply.step);
      state = view.state = reply.state;
      showState();
      if (reply.entry.refused) warn(reply.entry.text);
      return reply.entry;
    } catch (reason) {
      warn(String(reason));
      return null;
    } finally {
      clearTimeout(slow);
      pending -= 1;
      if (!pending) {
        working.textContent = "";
        root.classList.remove("lk-busy");
      }
    }
  }

  function warn(words) {
    trouble.textContent = `⚠ ${words}`;
    trouble.hidden = false;
  }

  function tell(...words) {
    told.replaceChildren(...words);
    pictures.replaceChildren();
  }

  function tool(label, data) {
    const button = element("button", { type: "button", class: "lk-button" }, label);
    button.addEventListener("click", async () => {
      const asked = data();
      const entry = await take(asked);
      if (!entry || entry.refused) return;
      tell(element("strong", {}, `${entry.words}: `), entry.text);
      if (asked.kind === "indicators") {
        line.showLooks(Object.fromEntries(Object.entries(entry.detail).map(([name, looks]) => [name, [lastLook(looks.network), lastLook(looks.module)]])));
        pictures.append(indicatorStrips(entry.detail, view.devices, asked.seconds));
      }
      if (asked.kind === "frame log") pictures.append(frameLog(entry.detail));
      if (asked.kind === "scope") pictures.append(scopePlot(entry.detail, entry.text));
    });
    return button;
  }

  const lastLook = (looks) => (looks.length ? looks[looks.length - 1][1] : "off");

  async function act(data) {
    const entry = await take(data);
    if (entry && !entry.refused) {
      changed();
      settled();
    }
    return entry;
  }

  // ---- probes and meter
  function place(terminal) {
    probes[active] = terminal;
    active = active === "red" ? "black" : "red";
    showMeter();
    read();
  }

  async function read() {
    if (!probes.red || !probes.black) return;
    const mine = (newest += 1);
    display.textContent = "…";
    const entry = await take({ kind: meter, a: probes.red, b: probes.black });
    if (mine === newest) display.textContent = entry && !entry.refused ? entry.text : "– – –";
  }

  const spoken = (terminal) => {
    if (!terminal) return "not placed";
    if (terminal === "earth") return "earth";
    const cut = terminal.lastIndexOf("/");
    const number = Number(terminal[cut + 1]);
    const half = terminal.endsWith("s") ? " (socket)" : "";
    return `${terminal.slice(0, cut)}, ${number} ${view.terminals[number - 1][3]}${half}`;
  };

  function showMeter() {
    for (const button of meterModes.children) button.setAttribute("aria-pressed", String(button.dataset.meter === meter));
    for (const button of probeButtons.children) button.setAttribute("aria-pressed", String(button.dataset.probe === active));
    probeText.replaceChildren(
      element("span", {}, `+ ${spoken(probes.red)}`),
      element("span", {}, `− ${spoken(probes.black)}`),
    );
    const spot = (terminal) => terminal && terminal !== "earth" && spotOf(terminal.slice(0, terminal.lastIndexOf("/")));
    line.showProbes(spot(probes.red), spot(probes.black));
    for (const button of parts.querySelectorAll("[data-terminal]")) {
      const here = ["red", "black"].filter((colour) => probes[colour] === button.dataset.terminal);
      button.querySelector(".lk-here").textContent = here.map((colour) => (colour === "red" ? "+" : "−")).join("");
      button.setAttribute("aria-label", [button.dataset.words, ...here.map((colour) => `${colour} probe here`)].join(", "));
    }
  }

  function spotOf(connector) {
    const socket = socketOf.get(connector);
    return socket;
  }

  // ---- the opened part
  function open(name) {
    const cards = connectorsOf(name).map(card);
    const device = view.devices.find((each) => each.name === name);
    parts.replaceChildren(
      element("h4", { class: "lk-open-title" }, device ? `${name} (planned node ${device.address})` : name),
      element("div", { class: "lk-plug-list" }, ...cards),
      work(name, device),
    );
    showMeter();
  }

  function alongRow(event) {
    const move = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!move) return;
    event.preventDefault();
    const row = [...event.currentTarget.parentElement.children];
    const next = row[(row.indexOf(event.currentTarget) + move + row.length) % row.length];
    row.forEach((each) => each.setAttribute("tabindex", each === next ? 0 : -1));
    next.focus();
  }

  function card(connector) {
    const out = state.unplugged.includes(connector.id);
    const row = (half, words) =>
      element(
        "div",
        { class: "lk-terminals", role: "group", "aria-label": `${connector.words}${words}` },
        ...view.terminals.map(([number, , colour, label]) => {
          const id = `${connector.id}/${number}${half}`;
          const button = element(
            "button",
            { type: "button", tabindex: number === 1 ? 0 : -1, class: `lk-terminal lk-wire-${colour}`, "data-terminal": id, "data-words": `${connector.id}${words}, terminal ${number}, ${label}` },
            element("span", { class: "lk-terminal-number" }, String(number)),
            element("span", { class: "lk-swatch", "aria-hidden": "true" }),
            element("span", { class: "lk-terminal-label" }, label),
            element("span", { class: "lk-here", "aria-hidden": "true" }),
          );
          button.addEventListener("click", () => place(id));
          button.addEventListener("keydown", alongRow);
          return button;
        }),
      );
    const seen = element("p", { class: "lk-seen", role: "status" });
    const look = element("button", { type: "button", class: "lk-button lk-small", "aria-label": `Look inside ${connector.id}` }, "Look inside");
    look.addEventListener("click", async () => {
      const entry = await take({ kind: "look", connector: connector.id });
      if (entry) seen.textContent = entry.text;
    });
    const does = out ? "Plug in" : "Unplug";
    const plug = element("button", { type: "button", class: "lk-button lk-small", "aria-label": `${does} ${connector.id}` }, does);
    plug.dataset.plug = connector.id;
    plug.addEventListener("click", async () => {
      await act({ kind: out ? "plug" : "unplug", connector: connector.id });
      const here = document.activeElement === plug;
      open(line.chosen());
      // The button was drawn anew: whoever uses the keyboard stays on it.
      if (here) [...parts.querySelectorAll("[data-plug]")].find((each) => each.dataset.plug === connector.id)?.focus();
    });
    return element(
      "div",
      { class: `lk-plug${out ? " lk-out" : ""}`, role: "group", "aria-label": `${connector.words}${out ? ", unplugged" : ""}` },
      element("p", { class: "lk-plug-title" }, `${connector.words}${out ? " – unplugged" : ""}`),
      element(
        "div",
        { class: "lk-plug-row" },
        element(
          "div",
          {},
          row("", out ? ", plug" : ""),
          out ? element("p", { class: "lk-half" }, "↑ the plug, on the cable · the socket ↓") : "",
          out ? row("s", ", socket") : "",
        ),
        look,
        plug,
        ...repairsAt(connector),
      ),
      seen,
    );
  }

  function button(label, data) {
    const made = element("button", { type: "button", class: "lk-button lk-small" }, label);
    made.addEventListener("click", async () => {
      const asked = data();
      if (view.recorded && asked.kind in REPAIRS) return plan(asked);
      const entry = await act(asked);
      if (entry && !entry.refused) tell(`${entry.words}: done.`);
    });
    return made;
  }

  const repair = (data) => button(REPAIRS[data().kind], data);

  // In an assessed class a repair is named, not made: the bench there is only recorded.
  function plan(data) {
    const same = JSON.stringify(data);
    if (!planned.some((each) => JSON.stringify(each) === same)) planned.push(data);
    showPlanned();
    changed();
    settled();
  }

  function showPlanned() {
    plannedBox.hidden = !(view.recorded && view.repairs);
    plannedList.replaceChildren(
      ...planned.map((data) => {
        const where = data.connector ?? data.place ?? data.device ?? data.supply ?? data.piece ?? view.scanner;
        const to = data.kind === "set switches" ? `, node address ${data.address}, ${data.rate} kbit/s` : "";
        const words = `${REPAIRS[data.kind]}: ${where}${to}`;
        const gone = element("button", { type: "button", class: "lk-button lk-small", "aria-label": `Leave out: ${words}` }, "Leave out");
        gone.addEventListener("click", () => {
          planned.splice(planned.indexOf(data), 1);
          showPlanned();
          (plannedList.querySelector("button") ?? fault).focus();
          changed();
          settled();
        });
        return element("li", {}, `${words} `, gone);
      }),
    );
  }

  function repairsAt(connector) {
    if (!view.repairs) return [];
    if (connector.kind === "terminator") return [];
    return [
      mend(
        repair(() => ({ kind: "land", connector: connector.id })),
        repair(() => ({ kind: "part from earth", connector: connector.id })),
        repair(() => ({ kind: "remove terminator", place: connector.id })),
      ),
    ];
  }

  const mend = (...tools) =>
    element("details", { class: "lk-mend" }, element("summary", {}, "Repair"), element("div", { class: "lk-plug-tools" }, ...tools));

  function work(name, device) {
    if (!view.repairs) return earthTools(name);
    const tools = element("div", { class: "lk-plug-tools lk-work" });
    if (name.endsWith(" end"))
      tools.append(
        repair(() => ({ kind: "fit terminator", place: name })),
        repair(() => ({ kind: "remove terminator", place: name })),
      );
    if (device) {
      const address = element("input", { type: "number", min: 0, max: 63, value: device.address, class: "lk-input lk-switch-number" });
      const rate = choice("kbit/s", ["125", "250", "500"], String(view.rate));
      tools.append(
        element("label", { class: "lk-label" }, "Node address", address),
        rate.label,
        repair(() => ({ kind: "set switches", device: name, address: Number(address.value), rate: Number(rate.input.value) })),
        repair(() => ({ kind: "replace device", device: name })),
      );
      if (name === view.scanner) tools.append(repair(() => ({ kind: "download", entries: null })));
    }
    if (view.supplies.includes(name))
      tools.append(
        repair(() => ({ kind: "turn supply", supply: name })),
        repair(() => ({ kind: "replace supply", supply: name })),
      );
    const cables = view.pieces.filter(
      (piece) => piece.metres && [piece.a, piece.b].some((end) => socketOf.get(end) === name),
    );
    if (cables.length)
      tools.append(
        element(
          "details",
          { class: "lk-mend" },
          element("summary", {}, "Cables here"),
          ...cables.map((piece) => button(`Lay ${piece.id} anew`, () => ({ kind: "replace cable", piece: piece.id }))),
        ),
      );
    return element("div", {}, earthTools(name), tools);
  }

  function earthTools(name) {
    if (!view.supplies.includes(name)) return "";
    return element(
      "div",
      { class: "lk-plug-tools" },
      button("Lift the earth", () => ({ kind: "lift earth" })),
      button("Earth shield and V−", () => ({ kind: "fit earth" })),
    );
  }

  // ---- what is shown of the state
  function showState() {
    power.textContent = state.power ? "Power is ON – switch off" : "Power is off – switch on";
    power.setAttribute("aria-checked", String(state.power));
    power.classList.toggle("lk-powered", state.power);
    clock.value = Math.min(state.minutes, view.budget);
    clock.high = view.budget * 0.8;
    clockText.textContent = `${state.minutes} of ${view.budget} minutes used${state.minutes > view.budget ? " – over time" : ""}`;
    line.showUnplugged(state.unplugged.map((id) => socketOf.get(id)));
    history.replaceChildren(
      ...state.log.map((entry) => element("li", {}, `${entry.words}: ${entry.refused ? "not done" : entry.text}`, entry.minutes ? element("span", { class: "lk-minutes" }, ` ${entry.minutes} min`) : "")),
    );
    const last = state.log[state.log.length - 1];
    if (last && ["power on", "power off", "unplug", "plug", "set switches", "replace device", "land"].includes(last.kind)) line.showLooks({});
  }

  function choice(words, options, value) {
    const input = element("select", { class: "lk-input lk-select" }, ...options.map((each) => element("option", { value: each, selected: each === value }, each)));
    return { input, label: element("label", { class: "lk-label" }, words, input) };
  }

  // ---- the verdict
  const plannedList = element("ul", { class: "lk-planned" });
  const plannedBox = element(
    "div",
    { class: "lk-planned-box", role: "group", "aria-label": "Repairs that you would make" },
    element("p", { class: "lk-caption" }, "Repairs that you would make: choose them with the buttons at the part concerned. Nothing is repaired on the bench of an assessed class."),
    plannedList,
  );
  const fault = element("select", { class: "lk-input lk-select" }, element("option", { value: "" }, "choose"), ...Object.entries(view.faults).map(([kind, words]) => element("option", { value: kind }, words)));
  const where = element("select", { class: "lk-input lk-select" }, element("option", { value: "" }, "choose"), ...view.places.map((each) => element("option", { value: each }, each)));
  const wires = element(
    "fieldset",
    { class: "lk-wires" },
    element("legend", {}, "Conductors concerned"),
    ...view.terminals.map(([, label, , words]) => element("label", {}, element("input", { type: "checkbox", value: label }), words)),
  );
  root.append(
    element(
      "div",
      { class: "lk-verdict-form", role: "group", "aria-label": "Your verdict" },
      element("label", { class: "lk-label" }, "The fault", fault),
      element("label", { class: "lk-label" }, "Its place", where),
      wires,
      plannedBox,
    ),
  );
  if (!view.recorded) root.append(lookBack(step));

  const showWires = () => {
    wires.hidden = !view.with_wires.includes(fault.value);
  };
  for (const input of [fault, where, ...wires.querySelectorAll("input")])
    input.addEventListener("change", () => {
      showWires();
      changed();
      settled();
    });

  root.addEventListener("keydown", (event) => event.stopPropagation());
  line.showLooks({});
  line.pick(takeUp());
  showWires();
  showPlanned();
  showState();
  showMeter();

  // The meter and the opened part as they were left; returns the part.
  function takeUp() {
    const last = steps.findLastIndex((each) => METER.some(([kind]) => kind === each.kind));
    if (last >= 0) {
      probes.red = steps[last].a;
      probes.black = steps[last].b;
      meter = steps[last].kind;
      const entry = state.log[last];
      display.textContent = entry && !entry.refused ? entry.text : "– – –";
    }
    const at = probes.black && probes.black !== "earth" ? probes.black : probes.red;
    return at && at !== "earth" ? spotOf(at.slice(0, at.lastIndexOf("/"))) : view.scanner;
  }

  return {
    get: () => ({
      steps: stepsTold(),
      ...(planned.length ? { repairs: planned } : {}),
      verdict: {
        fault: fault.value,
        place: where.value,
        wires: wires.hidden ? [] : [...wires.querySelectorAll("input:checked")].map((input) => input.value),
      },
    }),
    set: (answer) => {
      const said = answer?.verdict ?? {};
      fault.value = said.fault ?? "";
      where.value = said.place ?? "";
      for (const input of wires.querySelectorAll("input")) input.checked = (said.wires ?? []).includes(input.value);
      planned.splice(0, planned.length, ...(answer?.repairs ?? []));
      showPlanned();
      showWires();
    },
  };

  // What was refused did not happen. A journal entry has a limit: of a very long path only what was
  // done decides, and is told.
  function stepsTold() {
    const happened = steps.filter((_, index) => !state.log[index]?.refused);
    if (happened.length <= STEPS_TOLD) return happened;
    return happened.filter((each) => !MEASURED.includes(each.kind)).slice(-STEPS_TOLD);
  }
}

export default { render: exercise(build) };
