/** @import { Build } from "./frame.js" */

import { cautionBox } from "./caution.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";

const SUMS = { at_5: "Load at 5 V, in mA", at_24: "Load at 24 V, in mA" };

function classOf(words) {
  if (words === "–") return "lk-choose-figure lk-choose-none";
  return /^\d+$/.test(words) && "lk-choose-figure";
}

function givenTable({ title, heads, rows }) {
  const cells = ([name, ...values]) => [
    element("th", { scope: "row" }, name),
    ...values.map((words, at) => element("td", { "data-head": heads[at + 1], class: classOf(words) }, words)),
  ];
  return element(
    "table",
    { class: "lk-plan lk-choose-given" },
    element("caption", {}, title),
    element("thead", {}, element("tr", {}, ...heads.map((head) => element("th", { scope: "col" }, head)))),
    element("tbody", {}, ...rows.map((row) => element("tr", {}, ...cells(row)))),
  );
}

// Options by their value; one alone is chosen already.
function choice(label, options) {
  const only = Object.keys(options).length === 1;
  const input = element(
    "select",
    { class: "lk-input lk-choose-one", "aria-label": label },
    ...(only ? [] : [element("option", { value: "" }, "choose …")]),
    ...Object.entries(options).map(([value, words]) => element("option", { value }, words)),
  );
  return { input, node: element("label", { class: "lk-label" }, label, input) };
}

function sum(label) {
  const input = element("input", {
    type: "text",
    class: "lk-input lk-choose-sum",
    inputmode: "decimal",
    autocomplete: "off",
    spellcheck: "false",
    maxlength: 40,
  });
  return { input, node: element("label", { class: "lk-label" }, label, input) };
}

function slotOf(slot, fixed, choices) {
  const name = `Slot ${slot}`;
  if (fixed) {
    const node = element("div", { class: "lk-choose-slot lk-choose-slot-fixed" }, element("span", {}, name), element("strong", {}, fixed.text));
    return { slot, node, input: null };
  }
  const input = element(
    "select",
    { class: "lk-input lk-choose-module", "aria-label": `Module in slot ${slot}` },
    element("option", { value: "" }, "empty"),
    ...Object.entries(choices).map(([value, words]) => element("option", { value }, words)),
  );
  const note = element("span", { class: "lk-choose-slot-note" });
  const node = element("div", { class: "lk-choose-slot" }, element("span", {}, name), input, note);
  return { slot, node, input, note };
}

const keep = (input, value) => {
  input.value = typeof value === "string" ? value : "";
  if (input instanceof HTMLSelectElement && input.selectedIndex === -1) input.selectedIndex = 0;
};

// Which slots there are, and which of them a wide module covers: what is seen, nothing added up.
function drawSlots(slots, size, wide) {
  let covered = false;
  for (const { slot, node, input, note } of slots) {
    const filled = Boolean(input?.value);
    node.hidden = slot >= size && !filled;
    if (note) note.textContent = told(slot, size, covered, filled);
    node.classList.toggle("lk-choose-slot-odd", filled && (covered || slot >= size));
    covered = wide.has(input?.value);
  }
}

function told(slot, size, covered, filled) {
  if (slot >= size) return "beyond this chassis";
  if (!covered) return "";
  return filled ? `slot ${slot - 1} covers it too` : `covered by slot ${slot - 1}`;
}

function task({ caution, invented, given }) {
  const { signals, catalogue, supplies, fixed, rules } = given;
  const tables = [signals, catalogue, supplies, fixed].filter(({ rows }) => rows.length);
  return [
    cautionBox(caution),
    ...tables.map(givenTable),
    element("p", { class: "lk-caption" }, invented),
    element("ul", { class: "lk-choose-rules", "aria-label": "What is asked" }, ...rules.map((rule) => element("li", {}, rule))),
  ];
}

const row = (name, fields, more = {}) => element("div", { class: name, ...more }, ...fields.map(({ node }) => node));

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const { chassis, supplies, fixed, modules: catalogue, loads } = shown.ask;
  const { choices } = shown.view;
  const most = Math.max(...chassis);
  const sizes = choice("Chassis", Object.fromEntries(chassis.map((size) => [String(size), `${size} slots, 0 to ${size - 1}`])));
  const supply = choice("Supply", Object.fromEntries(supplies.map(({ id, text }) => [id, text])));
  const sums = loads ? Object.fromEntries(Object.entries(SUMS).map(([rail, label]) => [rail, sum(label)])) : {};
  const slots = Array.from({ length: most }, (_, slot) => slotOf(slot, fixed[slot], choices));
  const wide = new Set(catalogue.filter((module) => module.slots > 1).map(({ id }) => id));
  const draw = () => drawSlots(slots, Number(sizes.input.value) || most, wide);
  const typed = (rail) => sums[rail]?.input.value.trim() ?? "";

  for (const { input } of [sizes, supply, ...Object.values(sums), ...slots]) {
    input?.addEventListener("input", () => {
      draw();
      changed();
    });
    input?.addEventListener("change", settled);
  }
  root.append(
    ...task(shown.view),
    row("lk-choose-heads", [sizes, supply]),
    row("lk-choose-slots", slots, { role: "group", "aria-label": "Your chassis, slot by slot" }),
    row("lk-choose-heads", Object.values(sums)),
  );
  root.addEventListener("keydown", (event) => event.stopPropagation());
  draw();
  return {
    get() {
      const modules = slots.map(({ slot, input }) => [String(slot), input?.value]);
      return {
        chassis: sizes.input.value,
        supply: supply.input.value,
        slots: Object.fromEntries(modules.filter(([, module]) => module)),
        at_5: typed("at_5"),
        at_24: typed("at_24"),
      };
    },
    set(answer) {
      keep(sizes.input, answer?.chassis);
      keep(supply.input, answer?.supply);
      for (const [rail, { input }] of Object.entries(sums)) keep(input, answer?.[rail]);
      for (const { slot, input } of slots) if (input) keep(input, answer?.slots?.[String(slot)]);
      draw();
    },
  };
}

export default { render: exercise(build) };
