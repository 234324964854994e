// The virtual bench: a line to open parts on, meter and instruments, repairs, and the verdict.

/** @import { Build } from "./frame.js" */

import { benchLine } from "./bench_line.js";
import { handMeter } from "./bench_meter.js";
import { partOpener } from "./bench_parts.js";
import { plannedRepairs, repairTools } from "./bench_repairs.js";
import { benchClock, benchHistory, powerSwitch } from "./bench_state.js";
import { benchSteps } from "./bench_steps.js";
import { benchResult, instrumentRow } from "./bench_tools.js";
import { verdictForm } from "./bench_verdict.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";
import { lookBack } from "./look_back.js";

const CAUTION =
  "On a real network: follow the local rules; work on live parts and on machines that can start is for those who " +
  "are trained and permitted. Switch off, secure, check that it is dead before you open a connector. Loading a scan list " +
  "can stop and start outputs: the people at the machine must know first.";
// After these the indicators are not as they were seen.
const DIM = ["power on", "power off", "unplug", "plug", "set switches", "replace device", "land"];

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

  function stands() {
    for (const each of [power, clock, history]) each.show();
    line.showUnplugged(view.state.unplugged.map(spotOf));
    if (DIM.includes(view.state.log.at(-1)?.kind)) line.showLooks({});
  }

  const bench = benchSteps(root, { view, step, stands });
  const { take } = bench;
  const [power, clock, history] = [powerSwitch(view, take), benchClock(view), benchHistory(view)];
  const parts = element("div", { class: "lk-parts" });
  const line = benchLine(view, (part) => open(part));
  const result = benchResult();
  const meter = handMeter({ view, line, parts, take, spotOf });
  const planned = plannedRepairs(view, { edited, emptied: () => verdict.focus() });
  const verdict = verdictForm(view, planned.node, edited);
  const repairs = repairTools({ view, act, plan: planned.plan, tell: result.tell, spotOf });
  const open = partOpener({ view, line, parts, place: meter.place, take, act, repairs, shown: meter.show });

  root.append(
    element("p", { class: "lk-bench-caution" }, `⚠ ${CAUTION}`),
    element("div", { class: "lk-bench-head" }, power.node, clock.node, bench.working),
    element("div", { class: "lk-whole-line" }, line.picture),
    bench.trouble,
    element("div", { class: "lk-bench-body" }, element("div", { class: "lk-opened" }, parts), meter.node),
    instrumentRow({ view, line, take, tell: result.tell }),
    result.node,
    history.node,
    verdict.node,
  );
  if (!view.recorded) root.append(lookBack(step));
  root.addEventListener("keydown", (event) => event.stopPropagation());
  line.showLooks({});
  line.pick(meter.takeUp() || view.scanner);
  planned.set([]);
  stands();

  return {
    get: () => ({
      steps: bench.told(),
      ...(planned.get().length ? { repairs: planned.get() } : {}),
      verdict: verdict.get(),
    }),
    set(answer) {
      verdict.set(answer?.verdict ?? {});
      planned.set(answer?.repairs ?? []);
    },
    stands: bench.standsNow,
  };
}

export default { render: exercise(build) };
