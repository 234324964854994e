// The part that is opened: its connectors with their terminals, and what can be done there.

import { button, element } from "./elements.js";

const SMALL = { class: "lk-button lk-small" };

function alongRow(event) {
  const move = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!move) return;
  event.preventDefault();
  const row = [...event.currentTarget.parentElement.children];
  const next = row[(row.indexOf(event.currentTarget) + move + row.length) % row.length];
  for (const each of row) each.setAttribute("tabindex", each === next ? 0 : -1);
  next.focus();
}

// The terminals of a plug, or of the socket that it was pulled from (`half` is then "s").
function terminalRow(connector, half, words, { terminals, place }) {
  const buttons = terminals.map(([number, , colour, label]) => {
    const id = `${connector.id}/${number}${half}`;
    const terminal = element(
      "button",
      {
        type: "button",
        tabindex: number === 1 ? 0 : -1,
        class: `lk-terminal lk-wire-${colour}`,
        "data-terminal": id,
        "data-words": `${connector.id}${words}, terminal ${number}, ${label}`,
      },
      element("span", { class: "lk-terminal-number" }, String(number)),
      element("span", { class: "lk-swatch", "aria-hidden": "true" }),
      element("span", { class: "lk-terminal-label" }, label),
      element("span", { class: "lk-here", "aria-hidden": "true" }),
    );
    terminal.addEventListener("click", () => place(id));
    terminal.addEventListener("keydown", alongRow);
    return terminal;
  });
  const label = `${connector.words}${words}`;
  return element("div", { class: "lk-terminals", role: "group", "aria-label": label }, ...buttons);
}

function lookInside(connector, take) {
  const seen = element("p", { class: "lk-seen", role: "status" });
  const look = button(
    "Look inside",
    async () => {
      const entry = await take({ kind: "look", connector: connector.id });
      if (entry) seen.textContent = entry.text;
    },
    { ...SMALL, "aria-label": `Look inside ${connector.id}` },
  );
  return { look, seen };
}

// hands: { terminals, place, take, act, reopen }
function connectorCard(connector, out, hands) {
  const { look, seen } = lookInside(connector, hands.take);
  const does = out ? "Plug in" : "Unplug";
  const plug = button(
    does,
    async () => {
      await hands.act({ kind: out ? "plug" : "unplug", connector: connector.id });
      hands.reopen(connector.id, document.activeElement === plug);
    },
    { ...SMALL, "aria-label": `${does} ${connector.id}`, "data-plug": connector.id },
  );
  const socket = out
    ? [
        element("p", { class: "lk-half" }, "↑ the plug, on the cable · the socket ↓"),
        terminalRow(connector, "s", ", socket", hands),
      ]
    : [];
  const terminals = element("div", {}, terminalRow(connector, "", out ? ", plug" : "", hands), ...socket);
  return element(
    "div",
    {
      class: `lk-plug${out ? " lk-out" : ""}`,
      role: "group",
      "aria-label": `${connector.words}${out ? ", unplugged" : ""}`,
    },
    element("p", { class: "lk-plug-title" }, `${connector.words}${out ? " – unplugged" : ""}`),
    element("div", { class: "lk-plug-row" }, terminals, look, plug),
    seen,
  );
}

// At a supply, or at the device that stands for it, the earth is lifted to measure, and put back.
function earthAt(part, view, { work }) {
  if (!view.supplies.includes(part) && part !== view.earthed_at) return "";
  return element(
    "div",
    { class: "lk-plug-tools lk-work" },
    work("Lift the earth", () => ({ kind: "lift earth" })),
    work(`Earth shield and ${view.common}`, () => ({ kind: "fit earth" })),
  );
}

const plannedAt = ({ address }, { names }) => (address === null ? names.scanner : `${names.address} ${address}`);

// at(name) shows a part in `parts`, and its repairs; anew() after a change elsewhere; blank() takes away
// what was seen inside. shown() is called when the part is there.
export function partOpener({ view, line, parts, place, take, act, repairs, shown }) {
  const hands = { terminals: view.terminals, place, take, act, reopen };

  function at(name) {
    const device = view.devices.find((each) => each.name === name);
    repairs.at(name, device);
    show(name, device);
  }

  function show(name, device) {
    const connectors = view.connectors.filter((each) => each.socket === name || each.id === name);
    const cards = connectors.map((each) => connectorCard(each, view.state.unplugged.includes(each.id), hands));
    parts.replaceChildren(
      element("h4", { class: "lk-open-title" }, device ? `${name} (${plannedAt(device, view)})` : name),
      element("div", { class: "lk-plug-list" }, ...cards),
      earthAt(name, view, repairs),
    );
    shown();
  }

  function anew() {
    const name = line.chosen();
    show(name, view.devices.find((each) => each.name === name));
  }

  // The button of the plug is drawn anew: whoever uses the keyboard stays on it.
  function reopen(connector, focus) {
    anew();
    if (focus) [...parts.querySelectorAll("[data-plug]")].find((each) => each.dataset.plug === connector)?.focus();
  }

  function blank() {
    for (const each of parts.querySelectorAll(".lk-seen")) each.textContent = "";
  }

  return { at, anew, blank };
}
