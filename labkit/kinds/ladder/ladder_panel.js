// A panel in front of a program: buttons to press, wires to break, devices to unplug. Python scans.

import { button, element } from "./elements.js";
import { fieldDevice, fieldInput } from "./ladder_field.js";
import { lineOf } from "./ladder_line.js";
import { lampsOf, tryCaution } from "./ladder_lamps.js";
import { Scans } from "./ladder_scans.js";

const TOLD = "Thick lines carry power. 1 and 0 are what the program reads.";
const RESTLESS = "The program never comes to rest: something goes on and off from scan to scan.";

const acts = (done) => [...done].map((act) => [act.slice(0, act.indexOf(" ")), act.slice(act.indexOf(" ") + 1)]);

// What stands in front of the program: { nodes, show(done, image), reset() }.
function fieldOf({ inputs, outputs, memory, panel, line }, touch) {
  const fields = inputs.map((operand, at) => fieldInput(operand, panel[at], touch));
  const wired = panel.map((control) => control.device).filter(Boolean);
  const names = [...new Set([...wired, ...(line?.devices ?? [])])];
  const devices = names.map((device) => fieldDevice(device, touch));
  const lamps = lampsOf([...outputs, ...memory]);
  return {
    nodes: [
      element("div", { class: "lk-touch" }, ...fields.map((each) => each.node)),
      ...(devices.length ? [element("div", { class: "lk-touch-devices" }, ...devices.map((each) => each.node))] : []),
      lamps.node,
    ],
    show(done, image) {
      for (const each of fields) each.show(done, image);
      lamps.show(image);
    },
    reset() {
      for (const each of [...fields, ...devices]) each.reset();
    },
  };
}

function wordsOf({ problem, restless }, count) {
  if (problem) return problem;
  if (restless) return RESTLESS;
  return count ? `Scan ${count}. ${TOLD}` : TOLD;
}

// Scan by scan, or until nothing changes any more.
function scanTools({ scan, changed, start }) {
  const single = element("input", { type: "checkbox" });
  const next = button("Next scan", scan, { hidden: true });
  single.addEventListener("change", () => {
    next.hidden = !single.checked;
    changed();
  });
  const told = element("p", { class: "lk-caption", role: "status" });
  const node = element(
    "div",
    { class: "lk-try-foot" },
    element("label", { class: "lk-switch" }, single, "scan by scan"),
    next,
    button("Start anew", start),
    told,
  );
  return { single, told, node };
}

export function fieldPanel(shown, model, editor) {
  // "deed of": what is pressed, broken and unplugged now.
  const done = new Set();
  const field = fieldOf(shown.ask, touch);
  const line = lineOf(shown.ask.line, scan);
  const tools = scanTools({ scan, changed: () => tools.single.checked || scan(), start });
  const scans = new Scans(model, editor, (tried) => {
    field.show(done, scans.image);
    line.show(tried.moved);
    tools.told.textContent = wordsOf(tried, scans.count);
    editor.showPower(tried.power);
  });

  function touch(deed, of, on) {
    const act = `${deed} ${of}`;
    if (done.has(act) === on) return;
    if (on) done.add(act);
    else done.delete(act);
    field.show(done, scans.image);
    if (!tools.single.checked) scan();
  }

  function start() {
    field.reset();
    done.clear();
    scans.clear();
    scan();
  }

  function scan() {
    if (!scans.moment(acts(done), tools.single.checked, line.condition())) tools.told.textContent = "No answer. Try again in a moment.";
  }

  field.show(done, scans.image);
  const legend = element("legend", {}, "Try it at the panel");
  const panel = element("fieldset", { class: "lk-try" }, legend, ...field.nodes, ...line.nodes, tools.node, tryCaution());
  return { panel, ask: scan, off: () => scans.off() };
}
