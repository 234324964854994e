// What is seen of a plan that was built and switched on: voltages along the trunk, lights, the scanner's
// words, what moves, and beside each broken rule what it shows, or that it is margin.

import { element, shape } from "./elements.js";

const LEFT = 42;
const WIDTH = 330;
const TOP = 14;
const HEIGHT = 110;
const MOST_VOLT = 26;

function profile({ devices, supply_at, supply_volts, least_volt }, length) {
  const x = (metres) => LEFT + (metres / length) * WIDTH;
  const y = (volt) => TOP + HEIGHT * (1 - Math.max(0, volt) / MOST_VOLT);
  const drawing = shape("svg", { viewBox: `0 0 ${LEFT + WIDTH + 20} ${TOP + HEIGHT + 34}`, class: "lk-whole-profile", "aria-hidden": "true" });
  for (const volt of [0, least_volt, 24]) {
    const least = volt === least_volt;
    drawing.append(
      shape("line", { x1: LEFT, x2: LEFT + WIDTH, y1: y(volt), y2: y(volt), class: least ? "lk-whole-least" : "lk-whole-grid" }),
      shape("text", { x: LEFT - 5, y: y(volt) + 5, class: "lk-whole-scale" }, `${volt} V`),
    );
  }
  const stops = [...devices.map(({ at, volts }) => [at, volts]), [supply_at, supply_volts]].sort((a, b) => a[0] - b[0]);
  drawing.append(
    shape("polyline", { points: stops.map(([at, volt]) => `${x(at)},${y(volt)}`).join(" "), class: "lk-whole-volt-line" }),
    shape("path", { d: `M ${x(supply_at)} ${y(supply_volts)} l -7 -12 h 14 z`, class: "lk-whole-supply" }),
  );
  for (const { at, volts, powered } of devices) {
    drawing.append(shape("circle", { cx: x(at), cy: y(volts), r: 5, class: powered ? "lk-whole-dot" : "lk-whole-dot lk-whole-low" }));
  }
  drawing.append(
    shape("text", { x: LEFT, y: TOP + HEIGHT + 26, class: "lk-whole-foot" }, "0 m"),
    shape("text", { x: LEFT + WIDTH, y: TOP + HEIGHT + 26, class: "lk-whole-foot lk-whole-end" }, `${length} m`),
  );
  return drawing;
}

const HEAD = ["Device", "Voltage", "Network indicator", "The scanner says"];

function deviceRow({ name, volts, light, meaning, report, refusal }) {
  const [, voltage, indicator, scanner] = HEAD;
  return element(
    "tr",
    {},
    element("th", { scope: "row" }, name),
    element("td", { class: "lk-whole-volts", "data-words": voltage }, `${volts.toFixed(1)} V`),
    element("td", { "data-words": indicator }, element("strong", {}, light), `: ${refusal || meaning}`),
    element("td", { class: report ? "" : "lk-whole-none", "data-words": scanner }, report || "–"),
  );
}

function table(devices) {
  return element(
    "table",
    { class: "lk-plan lk-whole-table" },
    element("thead", {}, element("tr", {}, ...HEAD.map((words) => element("th", { scope: "col" }, words)))),
    element("tbody", {}, ...devices.map(deviceRow)),
  );
}

function moved(moves, reads) {
  const all = (names) => (names.length ? names.join(", ") : "nothing");
  const lines = [
    ...moves.map(([name, moving]) => element("li", {}, `The program switches on ${name}: ${all(moving)} moves.`)),
    ...reads.map(([name, read]) => element("li", {}, `The inputs of ${name} come on: the program sees ${all(read)}.`)),
  ];
  return lines.length ? element("ul", { class: "lk-whole-moves" }, ...lines) : "";
}

function outcome({ broken, symptom, alone, margin }) {
  const seen = alone ? "Others hide it. Alone it shows: " : "It shows: ";
  const told = symptom
    ? element("p", {}, element("strong", {}, seen), symptom)
    : element("p", {}, element("strong", {}, "Margin. "), "The rule is broken, and this bench forgives it. ", margin);
  return element("li", { class: symptom ? "lk-whole-shows" : "lk-whole-margin" }, element("p", {}, broken.sentence), told);
}

/**
 * @param {any} tried
 * @param {number} length - of the trunk, m
 * @returns {(Node | string)[]}
 */
export function seenOf(tried, length) {
  const { outcomes } = tried;
  const rules = outcomes.length
    ? [element("h4", {}, "The rules that this plan breaks"), element("ol", { class: "lk-whole-outcomes" }, ...outcomes.map(outcome))]
    : [element("p", {}, element("strong", {}, "This plan keeps every rule."))];
  const supply = `The supply gives ${tried.supply_current.toFixed(2)} A at ${tried.supply_volts.toFixed(1)} V. ` +
    `A device needs ${tried.least_volt} V. Error frames at the scanner: ${tried.errors}.`;
  return [profile(tried, length), element("p", {}, supply), table(tried.devices), moved(tried.moves, tried.reads), ...rules];
}
