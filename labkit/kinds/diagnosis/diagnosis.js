// The virtual bench, grouped as one works at it: look at the line, measure at the part that is open,
// repair it, decide. What the instruments show stands beside the line, and is blanked when anything changes.

/** @import { Build } from "./frame.js" */

import { benchGroup, benchLayout } from "./bench_layout.js";
import { benchLine } from "./bench_line.js";
import { handMeter } from "./bench_meter.js";
import { partOpener } from "./bench_parts.js";
import { plannedRepairs, repairTools } from "./bench_repairs.js";
import { benchResult } from "./bench_result.js";
import { benchClock, benchHistory, powerSwitch } from "./bench_state.js";
import { benchSteps, lastChange } from "./bench_steps.js";
import { instruments } from "./bench_tools.js";
import { verdictForms } from "./bench_verdict.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";
import { lookBack } from "./look_back.js";

const CAUTION =
  "On a real network: follow the local rules; work on live parts and on machines that can start is for those who " +
  "are trained and permitted. Switch off, secure, check that it is dead before you open a connector.";
const LISTS = " Loading a scan list can stop and start outputs: the people at the machine must know first.";
const SETTINGS =
  " What is set anew at a device can stop or start what it drives: the people at the machine must know first.";
const OUTPUTS =
  " Commanding an output, or the scanner to run, moves something: nobody may be in reach of it, and whoever answers " +
  "for the machine says when.";

function caution(view) {
  const lists = view.device_work.some(({ kind }) => kind === "download");
  return `${CAUTION}${lists ? LISTS : SETTINGS}${view.outputs.length ? OUTPUTS : ""}`;
}

/** @type {Build} */
function build(root, { shown, changed, settled, step }) {
  const { view } = shown;
  const sockets = new Map(view.connectors.map((connector) => [connector.id, connector.socket]));
  const spotOf = (connector) => sockets.get(connector);

  function edited() {
    changed();
    settled();
  }

  async function act(data) {
    const entry = await take(data);
    if (entry && !entry.refused) edited();
    return entry;
  }

  const bench = benchSteps(root, { view, step, stands: () => stands() });
  const { take } = bench;
  const [power, clock, history] = [powerSwitch(view, take), benchClock(view), benchHistory(view)];
  const parts = element("div", { class: "lk-parts" });
  const line = benchLine(view, (part) => open.at(part));
  const result = benchResult();
  const meter = handMeter({ view, line, parts, take, spotOf });
  const planned = plannedRepairs(view, { edited, emptied: () => verdict.focus() });
  const verdict = verdictForms(view, edited);
  const repairs = repairTools({ view, act, plan: planned.plan, tell: result.tell, spotOf });
  const open = partOpener({ view, line, parts, place: meter.place, take, act, repairs, shown: meter.show });
  const tools = instruments({ view, line, take, result });
  const stands = standing(view, {
    shows: [power, clock, history, { show: () => line.showUnplugged(view.state.unplugged.map(spotOf)) }],
    readings: [meter, result, open, { blank: () => line.showLooks({}) }],
  });

  root.append(
    element("p", { class: "lk-bench-caution" }, `⚠ ${caution(view)}`),
    ...benchLayout(root, {
      look: [power.node, clock.node, ...tools.looks],
      line: line.picture,
      trouble: bench.trouble,
      part: parts,
      measure: [bench.working, meter.node, tools.measures, result.node],
      repair: view.repairs && [planned.node, repairs.node],
    }),
    benchGroup("Decide", "lk-decide", history.node, verdict.node, view.recorded ? "" : lookBack(step)),
  );
  root.addEventListener("keydown", (event) => event.stopPropagation());
  line.showLooks({});
  line.pick(meter.takeUp() || view.scanner);
  planned.set([]);
  stands();
  return area(view, { bench, planned, verdict, open });
}

// Shows how the bench stands after each step; what was read before a change is no reading of it now.
function standing(view, { shows, readings }) {
  let change = lastChange(view.state.log);
  return () => {
    for (const each of shows) each.show();
    const last = lastChange(view.state.log);
    if (last !== change) for (const each of readings) each.blank();
    change = last;
  };
}

// What the frame asks of the bench.
function area(view, { bench, planned, verdict, open }) {
  return {
    get: () => ({
      steps: bench.told(),
      ...(planned.get().length ? { repairs: planned.get() } : {}),
      ...verdict.get(),
    }),
    set(answer) {
      verdict.set(answer);
      planned.set(answer?.repairs ?? []);
    },
    stands(now) {
      if (!now.state) return; // a look back
      const before = String(view.state.unplugged);
      bench.hear(now);
      if (before !== String(view.state.unplugged)) open.anew();
    },
  };
}

export default { render: exercise(build) };
