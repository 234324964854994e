/** @import { Build } from "./frame.js" */

import { element } from "./elements.js";
import { exercise } from "./frame.js";

const FEW = 64; // so many addresses are drawn in rows of eight
const MOST_DRAWN = 256;

function readAddress(text) {
  // Only to draw what is typed; Python reads the answer itself.
  const found = /^(?:node\s*)?#?\s*(\d+)$/i.exec(text);
  return found ? Number(found[1]) : null;
}

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const { devices, limit } = shown.ask;
  const { lowest } = shown.view;
  const inputs = new Map();
  const rows = devices.map((device) => {
    const input = element("input", {
      type: "text",
      inputmode: "numeric",
      class: "lk-input lk-plan-address",
      maxlength: 20,
      autocomplete: "off",
      "aria-label": `Node address of ${device}`,
    });
    inputs.set(device, input);
    input.addEventListener("input", () => {
      drawMap();
      changed();
    });
    input.addEventListener("change", settled);
    return element("tr", {}, element("th", { scope: "row" }, device), element("td", {}, input));
  });
  const table = element(
    "table",
    { class: "lk-plan" },
    element(
      "thead",
      {},
      element("tr", {}, element("th", { scope: "col" }, "Device"), element("th", { scope: "col" }, "Node address")),
    ),
    element("tbody", {}, ...rows),
  );

  const count = limit - lowest + 1;
  const cells = Array.from({ length: count > MOST_DRAWN ? 0 : count }, (_, at) =>
    element("div", { class: "lk-cell" }, String(lowest + at)),
  );
  const many = count > FEW;
  const map = element("div", { class: many ? "lk-map lk-map-many" : "lk-map", "aria-hidden": "true" }, ...cells);
  const caption = element("p", { class: "lk-caption" });
  root.append(
    element("div", { class: "lk-columns" }, table, element("div", { class: many ? "lk-map-side" : "" }, caption, map)),
  );
  root.addEventListener("keydown", (event) => event.stopPropagation());

  function drawMap() {
    const filled = [...inputs.values()].map((input) => input.value.trim()).filter(Boolean);
    cells.forEach((cell, at) => {
      cell.classList.toggle("lk-used", filled.some((text) => readAddress(text) === lowest + at));
    });
    caption.textContent = `Addresses ${lowest} to ${limit}: ${filled.length} of ${devices.length} devices have one.`;
  }

  drawMap();
  return {
    get: () => Object.fromEntries([...inputs].map(([device, input]) => [device, input.value.trim()])),
    set: (answer) => {
      for (const [device, input] of inputs) input.value = answer?.[device] ?? "";
      drawMap();
    },
  };
}

export default { render: exercise(build) };
