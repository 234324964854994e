// Steps at the bench: one is done when Python has it on disk, and says how the bench stands then.

import { element } from "./elements.js";

const STEPS_TOLD = 160;
const SLOW_AFTER_MS = 400;
const PATIENCE_MS = 20000;
const MEASURED = [
  "ohms",
  "volts",
  "busy volts",
  "look",
  "supply current",
  "indicators",
  "scanner report",
  "frame log",
  "scope",
];

// take(data) promises the entry of the log with its number, or null for what was not done; it is `stale` where the bench
// was changed in another window meanwhile. hear(reply) takes what came of a step of another window;
// stands() is called when `view.state` is another one.
export function benchSteps(root, { view, step, stands }) {
  view.hands ??= []; // whose hand took each of the steps, where several work here
  const trouble = element("p", { class: "lk-refusal", role: "alert", hidden: true });
  const working = element("span", { class: "lk-caption lk-bench-working", role: "status" });
  let pending = 0;

  function warn(words) {
    trouble.textContent = `⚠ ${words}`;
    trouble.hidden = false;
  }

  function done() {
    pending -= 1;
    if (pending) return;
    working.textContent = "";
    root.classList.remove("lk-busy");
  }

  // How the bench stands, as the newest reply says: replies may come in another order.
  function hear(reply) {
    if (reply.state.log.length < view.state.log.length) return;
    // In place: a view that is made anew from the same model finds them.
    view.steps.splice(0, view.steps.length, ...reply.steps);
    if (reply.hands) view.hands.splice(0, view.hands.length, ...reply.hands);
    if (reply.hand) view.hands[reply.steps.length - 1] = reply.hand;
    view.state = reply.state;
    stands();
  }

  async function take(data) {
    pending += 1;
    const slow = setTimeout(() => (working.textContent = "Working it out …"), SLOW_AFTER_MS);
    root.classList.add("lk-busy");
    trouble.hidden = true;
    try {
      const reply = await step(data, PATIENCE_MS);
      hear(reply);
      if (reply.entry.refused) warn(reply.entry.text);
      const number = reply.state.log.length;
      return { ...reply.entry, number, stale: lastChange(view.state.log) >= number };
    } catch (reason) {
      warn(String(reason));
      return null;
    } finally {
      clearTimeout(slow);
      done();
    }
  }

  return { take, hear, trouble, working, told: () => stepsTold(view.steps, view.state.log) };
}

/** Where in the log the bench was changed last; -1: never. */
export function lastChange(log) {
  return log.findLastIndex(({ kind, refused }) => !refused && !MEASURED.includes(kind));
}

// What was refused did not happen. A journal entry has a limit: of a very long path only what was
// done decides, and is told.
export function stepsTold(steps, log) {
  const happened = steps.filter((_, index) => !log[index]?.refused);
  if (happened.length <= STEPS_TOLD) return happened;
  return happened.filter((each) => !MEASURED.includes(each.kind)).slice(-STEPS_TOLD);
}
