// The instruments beside the meter: indicators over time and the scanner, to look; supplies, frame log,
// scope and outputs, to measure.

import { frameLog } from "./bench_log.js";
import { indicatorStrips } from "./bench_pictures.js";
import { scope } from "./bench_scope.js";
import { button, element, selectField } from "./elements.js";

const lastLook = (looks) => (looks.length ? looks[looks.length - 1][1] : "off");

const together = (...parts) => element("span", { class: "lk-together" }, ...parts);

// { looks, measures }: the controls of the two groups.
export function instruments({ view, line, take, result }) {
  // pictures(entry) are shown with what it tells.
  /** @param {string} label @param {() => object} data @param {(entry: any) => Element[]} [pictures] */
  function tool(label, data, pictures = () => []) {
    return button(label, async () => {
      const entry = await take(data());
      if (!entry || entry.refused || entry.stale) return;
      result.reads([element("strong", {}, `${entry.words}: `), entry.text], ...pictures(entry));
    });
  }

  const devices = view.devices.map((device) => device.name);
  const listener = selectField("at", view.recorded ? view.log_places : devices, view.scanner);
  listener.input.setAttribute("aria-label", "Where the frames are logged");
  const log = tool(
    "Log the frames",
    () => ({ kind: "frame log", listener: listener.input.value }),
    ({ detail }) => [frameLog(detail)],
  );
  return {
    looks: [indicatorTool(view, line, tool, result), tool(view.names.ask, () => ({ kind: "scanner report" }))],
    measures: element(
      "div",
      { class: "lk-watch" },
      together(log, view.recorded && view.log_places.length < 2 ? "" : listener.label),
      ...view.supplies.map((supply) => tool(`Current of ${supply}`, () => ({ kind: "supply current", supply }))),
      view.recorded || !("scope" in view.costs) ? "" : scopeTool(devices, view, tool, result),
      ...outputTools(view.outputs, tool),
    ),
  };
}

function indicatorTool(view, line, tool, result) {
  const times = view.watches_s.map((seconds) => `${seconds} s`);
  const { input } = selectField("for", times, times[0]);
  input.setAttribute("aria-label", "How long the indicators are watched");
  let seconds = 0;

  function data() {
    seconds = view.watches_s[input.selectedIndex];
    return { kind: "indicators", seconds };
  }

  function seen({ detail }) {
    const looks = Object.entries(detail).map(([name, { network, module, whole }]) => [name, whole ?? [lastLook(network), lastLook(module)]]);
    line.showLooks(Object.fromEntries(looks));
    return [indicatorStrips(detail, view, seconds, result.room())];
  }

  return together(tool("Watch the indicators", data, seen), input);
}

// Whether outputs follow: one after the other commanded on, and all of them when the scanner goes to
// idle, or away.
function outputTools(devices, tool) {
  if (!devices.length) return [];
  const chosen = selectField("of", devices, devices[0]);
  chosen.input.setAttribute("aria-label", "Whose outputs are commanded on");
  return [
    together(
      tool("Command outputs on", () => ({ kind: "command outputs", device: chosen.input.value })),
      chosen.label,
    ),
    tool("All outputs on, then the scanner to idle", () => ({ kind: "go idle" })),
    tool("All outputs on, then the scanner off", () => ({ kind: "lose scanner" })),
  ];
}

function scopeTool(devices, { scanner, pair }, tool, result) {
  const probed = selectField("at", devices, devices[devices.length - 1]);
  probed.input.setAttribute("aria-label", "Scope at");
  const talker = selectField("while this one sends", devices, scanner);
  const data = () => ({ kind: "scope", device: probed.input.value, talker: talker.input.value });
  const picture = scope(pair);
  return together(
    tool("Scope", data, (entry) => [picture(entry, result.room())]),
    probed.label,
    talker.label,
  );
}
