// Repairs: the buttons at a part, and in an assessed class the list of those that one would make.

import { button, element, selectField } from "./elements.js";

// By their kind, as the buttons and the list of an assessed class name them; one needs the view to be told.
const REPAIRS = {
  land: "Make the connector anew",
  "part from earth": "Free the shield from earth",
  "fit terminator": "Fit a terminator",
  "remove terminator": "Take the terminator away",
  "set switches": "Set the switches",
  "replace device": "Replace the device",
  "turn supply": ({ power }) => `Exchange ${power.join(" and ")}`,
  "replace supply": "Replace the supply",
  "replace cable": "Lay the cable anew",
  download: "Load the planned scan list",
  "command run": "Command the scanner to run",
  "switch off on loss": "Let its outputs switch off when the connection is lost",
  "switch off in idle": "Let its outputs switch off while the scanner is idle",
};
const told = (kind, view) => (kind === "turn supply" ? REPAIRS[kind](view) : REPAIRS[kind]);
const SMALL = { class: "lk-button lk-small" };

const mend = (words, ...tools) =>
  element("details", { class: "lk-mend" }, element("summary", {}, words), ...tools);

// In an assessed class a repair is named, not made: the bench there is only recorded.
// edited() is called after each change; emptied() when the button with the focus is gone.
export function plannedRepairs(view, { edited, emptied }) {
  const planned = [];
  const list = element("ul", { class: "lk-planned" });
  const node = element(
    "div",
    { class: "lk-planned-box", role: "group", "aria-label": "Repairs that you would make" },
    element(
      "p",
      { class: "lk-caption" },
      "Repairs that you would make: choose them with the buttons at the part concerned. " +
        "Nothing is repaired on the bench of an assessed class.",
    ),
    list,
  );

  function words(data) {
    const where = data.connector ?? data.place ?? data.device ?? data.supply ?? data.piece ?? view.scanner;
    const to = data.kind === "set switches" ? `, node address ${data.address}, ${data.rate} kbit/s` : "";
    return `${told(data.kind, view)}: ${where}${to}`;
  }

  function leaveOut(data) {
    planned.splice(planned.indexOf(data), 1);
    show();
    const next = list.querySelector("button");
    if (next) next.focus();
    else emptied();
    edited();
  }

  function show() {
    node.hidden = !(view.recorded && view.repairs);
    list.replaceChildren(
      ...planned.map((data) => {
        const gone = button("Leave out", () => leaveOut(data), { ...SMALL, "aria-label": `Leave out: ${words(data)}` });
        return element("li", {}, `${words(data)} `, gone);
      }),
    );
  }

  function plan(data) {
    const same = JSON.stringify(data);
    if (!planned.some((each) => JSON.stringify(each) === same)) planned.push(data);
    show();
    edited();
  }

  return {
    node,
    plan,
    get: () => planned,
    set(repairs) {
      planned.splice(0, planned.length, ...repairs);
      show();
    },
  };
}

// act(data) does a step that changes the bench, plan(data) names one, tell(words) says what was done.
function workButtons({ view, act, plan, tell }) {
  function work(words, data) {
    return button(
      words,
      async () => {
        const asked = data();
        if (view.recorded && asked.kind in REPAIRS) return plan(asked);
        const entry = await act(asked);
        if (entry && !entry.refused) tell([`${entry.words}: done.`]);
      },
      SMALL,
    );
  }

  return { work, repair: (data) => work(told(data.kind, view), () => data) };
}

function atDevice({ name, address }, view, { work, repair }) {
  const node = element("input", {
    type: "number",
    min: 0,
    max: 63,
    value: address,
    class: "lk-input lk-switch-number",
  });
  const rate = selectField("kbit/s", ["125", "250", "500"], String(view.rate));
  const set = () => ({
    kind: "set switches",
    device: name,
    address: Number(node.value),
    rate: Number(rate.input.value),
  });
  return [
    element("label", { class: "lk-label" }, "Node address", node),
    rate.label,
    work(REPAIRS["set switches"], set),
    repair({ kind: "replace device", device: name }),
    ...(name === view.scanner ? [repair({ kind: "download", entries: null })] : []),
    ...(name === view.scanner && view.outputs.length ? [repair({ kind: "command run" })] : []),
    ...(view.outputs.includes(name) ? ["switch off on loss", "switch off in idle"] : []).map((kind) => repair({ kind, device: name })),
  ];
}

function cablesAt(part, { view, spotOf }, { work }) {
  const cables = view.pieces.filter(
    (piece) => piece.metres && [piece.a, piece.b].some((end) => spotOf(end) === part),
  );
  if (!cables.length) return [];
  const buttons = cables.map(({ id }) => work(`Lay ${id} anew`, () => ({ kind: "replace cable", piece: id })));
  return [mend("Cables here", ...buttons)];
}

// bench: { view, act, plan, tell, spotOf }
export function repairTools(bench) {
  const { view } = bench;
  const buttons = workButtons(bench);
  const { repair } = buttons;
  const node = element("div", { class: "lk-repairs" });

  function atConnector({ id, kind, words }) {
    if (kind === "terminator") return [];
    const tools = element(
      "div",
      { class: "lk-plug-tools" },
      repair({ kind: "land", connector: id }),
      repair({ kind: "part from earth", connector: id }),
      repair({ kind: "remove terminator", place: id }),
    );
    return [mend(words, tools)];
  }

  const atEnd = (place) => ["fit terminator", "remove terminator"].map((kind) => repair({ kind, place }));
  const atSupply = (supply) => ["turn supply", "replace supply"].map((kind) => repair({ kind, supply }));

  function at(part, device) {
    if (!view.repairs) return;
    const connectors = view.connectors.filter((each) => each.socket === part || each.id === part);
    const tools = [
      ...(part.endsWith(" end") ? atEnd(part) : []),
      ...(device ? atDevice(device, view, buttons) : []),
      ...(view.supplies.includes(part) ? atSupply(part) : []),
    ];
    node.replaceChildren(
      element("p", { class: "lk-caption" }, `At ${part}:`),
      ...connectors.flatMap(atConnector),
      ...cablesAt(part, bench, buttons),
      tools.length ? element("div", { class: "lk-plug-tools lk-work" }, ...tools) : "",
    );
  }

  return { node, at, work: buttons.work };
}
