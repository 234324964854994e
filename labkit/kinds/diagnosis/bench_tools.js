// The instruments beside the meter: indicators over time, the scanner, supplies, frame log, scope.

import { frameLog } from "./bench_log.js";
import { indicatorStrips, scopePlot } from "./bench_pictures.js";
import { button, element, selectField } from "./elements.js";

const lastLook = (looks) => (looks.length ? looks[looks.length - 1][1] : "off");

// What an instrument or a repair tells. Only the sentence is read out: a log has hundreds of lines.
export function benchResult() {
  const told = element("p", { class: "lk-result-text", role: "status" });
  const pictures = element("div", {});
  return {
    node: element("div", { class: "lk-result" }, told, pictures),
    tell(words, ...shown) {
      told.replaceChildren(...words);
      pictures.replaceChildren(...shown);
    },
  };
}

// The picture of a reading, for the instruments that have one.
function pictureOf(asked, entry, view) {
  if (asked.kind === "indicators") return [indicatorStrips(entry.detail, view.devices, asked.seconds)];
  if (asked.kind === "frame log") return [frameLog(entry.detail)];
  if (asked.kind === "scope") return [scopePlot(entry.detail, entry.text)];
  return [];
}

const together = (...parts) => element("span", { class: "lk-together" }, ...parts);

export function instrumentRow({ view, line, take, tell }) {
  function tool(label, data) {
    return button(label, async () => {
      const asked = data();
      const entry = await take(asked);
      if (!entry || entry.refused) return;
      if (asked.kind === "indicators") showLamps(entry.detail);
      tell([element("strong", {}, `${entry.words}: `), entry.text], ...pictureOf(asked, entry, view));
    });
  }

  function showLamps(detail) {
    const seen = Object.entries(detail).map(([name, { network, module }]) => [
      name,
      [lastLook(network), lastLook(module)],
    ]);
    line.showLooks(Object.fromEntries(seen));
  }

  const devices = view.devices.map((device) => device.name);
  const listener = selectField("Log at", devices, view.scanner);
  const log = tool("Log the frames", () => ({ kind: "frame log", listener: listener.input.value }));
  return element(
    "div",
    { class: "lk-watch" },
    indicatorTool(view, tool),
    tool("Ask the scanner", () => ({ kind: "scanner report" })),
    ...view.supplies.map((supply) => tool(`Current of ${supply}`, () => ({ kind: "supply current", supply }))),
    together(view.recorded ? "" : listener.label, log),
    view.recorded ? "" : scopeTool(devices, view.scanner, tool),
  );
}

function indicatorTool(view, tool) {
  const times = view.watches_s.map((seconds) => `${seconds} s`);
  const { input, label } = selectField("for", times, times[0]);
  input.setAttribute("aria-label", "How long the indicators are watched");
  const data = () => ({ kind: "indicators", seconds: view.watches_s[input.selectedIndex] });
  return together(tool("Watch the indicators", data), label);
}

function scopeTool(devices, scanner, tool) {
  const probed = selectField("Scope at", devices, devices[devices.length - 1]);
  const talker = selectField("while this one sends", devices, scanner);
  const data = () => ({ kind: "scope", device: probed.input.value, talker: talker.input.value });
  return together(probed.label, talker.label, tool("Scope", data));
}
