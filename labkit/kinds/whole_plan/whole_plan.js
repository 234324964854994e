/** @import { Build } from "./frame.js" */

import { element, newToken } from "./elements.js";
import { exercise } from "./frame.js";
import { seenOf } from "./whole_plan_seen.js";

const CAUTION =
  "This bench is made of numbers: nothing gets hot here and nothing moves. On the real line, switch off, lock out and " +
  "prove dead before you open a connector, and see that nobody is in reach before outputs can move.";
const WAITING = "The bench is being built. A line that breaks the rules of length can take half a minute.";

function choice(words, options) {
  const filled = options.map((each) => element("option", { value: String(each) }, String(each)));
  return element("select", { class: "lk-input lk-select", "aria-label": words }, element("option", { value: "" }, "–"), ...filled);
}

function typed(words) {
  return element("input", {
    type: "text",
    inputmode: "numeric",
    class: "lk-input lk-whole-number",
    maxlength: 20,
    autocomplete: "off",
    "aria-label": words,
  });
}

function ticked(words) {
  return element("input", { type: "checkbox", "aria-label": words });
}

function facts(device, isScanner) {
  const io = isScanner ? "the scanner" : `${device.input_bytes} input, ${device.output_bytes} output bytes`;
  const reads = device.input_bytes ? `, the program reads from byte ${device.reads_at}` : "";
  const writes = device.output_bytes ? `, the program writes from byte ${device.program_at}` : "";
  return `tap at ${device.at} m, ${device.way} m to go, ${device.current.toFixed(2)} A; ${io}${reads}${writes}`;
}

// A device's fields by their names in an answer.
function deviceFields(device, site) {
  const of = (words) => `${words} of ${device.name}`;
  const fields = {
    address: typed(of("Node address")),
    rate: choice(of("Data rate"), site.rates),
    drop: choice(of("Drop"), site.drops),
  };
  if (device.name === site.scanner) return fields;
  const entry = { listed: ticked(of("Scan list entry")), inputs: typed(of("Input bytes")), outputs: typed(of("Output bytes")) };
  const reads = device.input_bytes ? { first_in: typed(of("First input byte")) } : {};
  const writes = device.output_bytes ? { first: typed(of("First output byte")) } : {};
  return { ...fields, ...entry, ...reads, ...writes };
}

const COLUMNS = [
  ["address", "Node address"],
  ["rate", "kbit/s"],
  ["drop", "Drop, m"],
  ["listed", "In the scan list"],
  ["inputs", "Input bytes"],
  ["first_in", "Inputs from byte"],
  ["outputs", "Output bytes"],
  ["first", "Outputs from byte"],
];

function deviceTable(site, fields) {
  const rows = site.devices.map((device) => {
    const told = element("span", { class: "lk-whole-facts" }, facts(device, device.name === site.scanner));
    const name = element("th", { scope: "row" }, element("strong", {}, device.name), told);
    const own = fields.get(device.name);
    const cells = COLUMNS.map(([key, words]) =>
      element("td", { "data-words": words, class: own[key] ? "" : "lk-whole-none" }, own[key] ?? "–"),
    );
    return element("tr", {}, name, ...cells);
  });
  const head = ["Device", ...COLUMNS.map(([, words]) => words)].map((words) => element("th", { scope: "col" }, words));
  return element(
    "table",
    { class: "lk-plan lk-whole-devices" },
    element("thead", {}, element("tr", {}, ...head)),
    element("tbody", {}, ...rows),
  );
}

function labelled(words, field) {
  return element("label", { class: "lk-label" }, words, field);
}

class PlanEditor {
  constructor(root, shown) {
    const { site } = shown.ask;
    this.cables = site.pieces.map((piece, at) => choice(`Cable of piece ${at + 1}`, piece.cables));
    this.supply = element("input", { type: "text", class: "lk-input", maxlength: 60, autocomplete: "off" });
    this.rating = choice("Supply, A", site.ratings);
    this.ends = new Map(shown.view.terminators.map((place) => [place, ticked(`Terminator: ${place}`)]));
    this.devices = new Map(site.devices.map((device) => [device.name, deviceFields(device, site)]));
    root.append(this.trunk(site), this.terminators(), deviceTable(site, this.devices));
    const free = site.keep_free.length ? `Stays free for new devices: node address ${site.keep_free.join(", ")}.` : "";
    if (free) root.append(element("p", { class: "lk-caption" }, free));
  }

  trunk(site) {
    const pieces = site.pieces.map((piece, at) => labelled(`Piece ${at + 1}: ${piece.length} m of trunk`, this.cables[at]));
    return element(
      "div",
      { class: "lk-whole-row" },
      ...pieces,
      labelled("Supply, A", this.rating),
      labelled("Supply at, from the left end, with its unit", this.supply),
    );
  }

  terminators() {
    const boxes = [...this.ends].map(([place, box]) => element("label", { class: "lk-whole-tick" }, box, place));
    return element("fieldset", { class: "lk-whole-row lk-whole-ends" }, element("legend", {}, "A terminator at"), ...boxes);
  }

  get() {
    const row = (fields) =>
      Object.fromEntries(
        COLUMNS.map(([key]) => [key, key === "listed" ? fields[key]?.checked === true : (fields[key]?.value.trim() ?? "")]),
      );
    return {
      cables: this.cables.map((each) => each.value),
      supply: this.supply.value.trim(),
      rating: this.rating.value,
      terminators: [...this.ends].filter(([, box]) => box.checked).map(([place]) => place),
      devices: Object.fromEntries([...this.devices].map(([name, fields]) => [name, row(fields)])),
    };
  }

  set(answer) {
    this.cables.forEach((each, at) => {
      each.value = answer?.cables?.[at] ?? "";
    });
    this.supply.value = answer?.supply ?? "";
    this.rating.value = answer?.rating ?? "";
    for (const [place, box] of this.ends) box.checked = answer?.terminators?.includes?.(place) === true;
    for (const [name, fields] of this.devices) {
      for (const [key, field] of Object.entries(fields)) {
        const kept = answer?.devices?.[name]?.[key];
        if (key === "listed") field.checked = kept === true;
        else field.value = typeof kept === "string" ? kept : "";
      }
    }
  }
}

// The bench: Python builds it of the plan as it stands here, and says what is seen.
function benchPanel(shown, model, editor) {
  const told = element("p", { class: "lk-caption", role: "status" });
  const seen = element("div", { class: "lk-whole-seen" });
  const press = element("button", { type: "button", class: "lk-button" }, "Build it and switch on");
  let token = null;

  function ask() {
    token = newToken();
    told.textContent = WAITING;
    seen.replaceChildren();
    try {
      model.send({ do: "try", token, plan: editor.get() });
    } catch {
      told.textContent = "No answer. Try again in a moment.";
    }
  }

  function heard(message) {
    if (!message?.tried || message.token !== token) return;
    const { problem } = message.tried;
    told.textContent = problem ? `Not built yet. ${problem}` : "Built as planned, and switched on.";
    if (!problem) seen.replaceChildren(...seenOf(message.tried, shown.view.length));
  }

  // What stands here is of the plan as it was.
  function changed() {
    token = null;
    if (!seen.childElementCount && !told.textContent) return;
    seen.replaceChildren();
    told.textContent = "The plan has changed. Build it again.";
  }

  press.addEventListener("click", ask);
  model.on("msg:custom", heard);
  const panel = element(
    "fieldset",
    { class: "lk-whole-bench" },
    element("legend", {}, "On the bench"),
    element("div", { class: "lk-whole-row" }, press, told),
    seen,
    element("p", { class: "lk-whole-caution" }, CAUTION),
  );
  return { panel, changed, off: () => model.off("msg:custom", heard) };
}

/** @returns {Build} */
function buildWith(model, cleanUp) {
  return (root, { shown, changed, settled }) => {
    const editor = new PlanEditor(root, shown);
    const bench = shown.practice ? benchPanel(shown, model, editor) : null;
    const form = [...root.children];
    if (bench) {
      cleanUp.push(bench.off);
      root.append(bench.panel);
    }
    for (const part of form) {
      part.addEventListener("input", () => {
        bench?.changed();
        changed();
      });
      part.addEventListener("change", settled);
    }
    root.addEventListener("keydown", (event) => event.stopPropagation());
    return { get: () => editor.get(), set: (answer) => editor.set(answer) };
  };
}

function render(context) {
  const cleanUp = [];
  const done = exercise(buildWith(context.model, cleanUp))(context);
  return () => {
    for (const each of cleanUp) each();
    done();
  };
}

export default { render };
