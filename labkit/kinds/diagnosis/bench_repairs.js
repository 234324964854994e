// Repairs: the buttons at a part, and in an assessed class the list of those that one would make.

import { button, element, selectField } from "./elements.js";

// By their kind, as the buttons and the list of an assessed class name them; one needs the view to be told. What is
// done at devices the view names: it is the family's.
const REPAIRS = {
  land: "Make the connector anew",
  "part from earth": "Free the shield from earth",
  "fit terminator": "Fit a terminator",
  "remove terminator": "Take the terminator away",
  "fit bias": "Fit a bias",
  "remove bias": "Take the bias away",
  "turn supply": ({ power }) => `Exchange ${power.join(" and ")}`,
  "replace supply": "Replace the supply",
  "replace cable": "Lay the cable anew",
  "replace fuse": "Replace the fuse",
  "break plus": ({ power }) => `Break ${power[0]}`,
};
const atDevices = (kind, view) => view.device_work.find((each) => each.kind === kind);
const isRepair = (kind, view) => kind in REPAIRS || Boolean(atDevices(kind, view));
function told(kind, view) {
  const words = REPAIRS[kind] ?? atDevices(kind, view).words;
  return typeof words === "string" ? words : words(view);
}
const FUSE = "A fuse blows for a reason: look for it first. On a short a new one blows again, and can burn you.";
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
    const asks = atDevices(data.kind, view)?.asks ?? [];
    const to = asks.map(({ field, told: as }) => `, ${as.replace("{}", data[field])}`);
    return `${told(data.kind, view)}: ${where}${to.join("")}`;
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
        if (view.recorded && isRepair(asked.kind, view)) return plan(asked);
        const entry = await act(asked);
        if (entry && !entry.refused) tell([`${entry.words}: done.`]);
      },
      SMALL,
    );
  }

  return { work, repair: (data) => work(told(data.kind, view), () => data) };
}

// A field to be filled in, and what then stands in it.
function askField({ label, options, value, range, is_text: isText }, address) {
  if (options.length) {
    const { label: node, input } = selectField(label, options, String(value));
    return { node, get: () => (isText ? input.value : Number(input.value)) };
  }
  const [min, max] = range;
  const input = element("input", { type: "number", min, max, value: value ?? address, class: "lk-input lk-switch-number" });
  return { node: element("label", { class: "lk-label" }, label, input), get: () => Number(input.value) };
}

const OFFERED_AT = {
  every: () => true,
  scanner: (name, view) => name === view.scanner,
  others: (name, view) => name !== view.scanner,
  outputs: (name, view) => view.outputs.includes(name),
};

function atDevice({ name, address }, view, { work }) {
  const offered = view.device_work.filter(({ at }) => OFFERED_AT[at](name, view));
  return offered.map(({ kind, words, asks, names_device: named, more }) => {
    const fields = asks.map((ask) => [ask.field, askField(ask, address)]);
    const filled = () => Object.fromEntries(fields.map(([field, { get }]) => [field, get()]));
    const data = () => ({ kind, ...(named ? { device: name } : {}), ...filled(), ...more });
    const go = work(words, data);
    return fields.length ? element("div", { class: "lk-plug-tools" }, ...fields.map(([, { node }]) => node), go) : go;
  });
}

function cablesAt(part, { view, spotOf }, { work }) {
  const cables = view.pieces.filter(
    (piece) => piece.metres && [piece.a, piece.b].some((end) => spotOf(end) === part),
  );
  if (!cables.length || !("replace cable" in view.costs)) return [];
  const anew = cables.map(({ id }) => work(`Lay ${id} anew`, () => ({ kind: "replace cable", piece: id })));
  const parted = "break plus" in view.costs ? cables.filter(({ trunk }) => trunk) : [];
  const broken = parted.map(({ id }) =>
    work(`${told("break plus", view)} in ${id}`, () => ({ kind: "break plus", piece: id })),
  );
  return [mend("Cables here", ...anew, ...broken)];
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
      ...(view.bias ? biasAt(id) : []),
      ...(view.fused.includes(id) ? [repair({ kind: "replace fuse", connector: id })] : []),
    );
    return [mend(words, tools, ...(view.fused.includes(id) ? [element("p", { class: "lk-caption" }, FUSE)] : []))];
  }

  const biasAt = (place) => ["fit bias", "remove bias"].map((kind) => repair({ kind, place }));
  const atEnd = (place) => ["fit terminator", "remove terminator"].map((kind) => repair({ kind, place }));
  const atSupply = (supply) => ["turn supply", "replace supply"].map((kind) => repair({ kind, supply }));

  function at(part, device) {
    if (!view.repairs) return;
    const connectors = view.connectors.filter((each) => each.socket === part || each.id === part);
    const tools = [
      ...(part.endsWith(" end") ? atEnd(part) : []),
      ...(part.endsWith(" end") && view.bias ? biasAt(part) : []),
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
