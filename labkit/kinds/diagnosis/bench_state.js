// How the bench stands: power, minutes used, and what was done so far, with how it stood then.

import { button, element } from "./elements.js";

export function powerSwitch(view, take) {
  const node = button(
    "",
    () => take({ kind: view.state.power ? "power off" : "power on" }),
    { class: "lk-button lk-power", role: "switch" },
  );

  function show() {
    const { power } = view.state;
    node.textContent = power ? "Power is ON – switch off" : "Power is off – switch on";
    node.setAttribute("aria-checked", String(power));
    node.classList.toggle("lk-powered", power);
  }

  return { node, show };
}

export function benchClock(view) {
  const { budget } = view;
  const clock = element("meter", { min: 0, max: budget, class: "lk-clock", "aria-label": "Minutes used" });
  const words = element("span", { class: "lk-clock-text" });

  function show() {
    const { minutes } = view.state;
    clock.value = Math.min(minutes, budget);
    clock.high = budget * 0.8;
    words.textContent = `${minutes} of ${budget} minutes used${minutes > budget ? " – over time" : ""}`;
  }

  return { node: element("span", { class: "lk-clock-box" }, clock, words), show };
}

export function benchHistory(view) {
  const list = element("ol", { class: "lk-history" });

  function line(entry, index) {
    const hand = view.hands?.[index] ? `${view.hands[index]} – ` : "";
    const words = `${hand}${entry.words}: ${entry.refused ? "not done" : entry.text}`;
    const minutes = entry.minutes ? ` · ${entry.minutes} min` : "";
    return element("li", {}, words, element("span", { class: "lk-minutes" }, ` (${entry.then})${minutes}`));
  }

  return {
    node: element("details", { class: "lk-past" }, element("summary", {}, "What you did so far"), list),
    show: () => list.replaceChildren(...view.state.log.map(line)),
  };
}
