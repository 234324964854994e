/** @import { Build } from "./frame.js" */

import { bitsSwitch, byteGrid } from "./byte_grid.js";
import { dragging } from "./dragging.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";

const VERBS = { produced: "produces", consumed: "consumes" };
const HOMES = { input: "produced", output: "consumed" };
const BOUNDARIES = { 1: "", 2: "Blocks start on word boundaries, where the thick line stands. ", 4: "Blocks start on double word boundaries, where the thick line stands. " };

function bytesText(count) {
  return count === 1 ? "1 byte" : `${count} bytes`;
}

function readByte(text) {
  // Only to draw what is typed; Python reads the answer itself.
  const found = /^\s*(?:byte\s*)?#?\s*(\d{1,5})\s*$/i.exec(text);
  return found ? Number(found[1]) : null;
}

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const { devices, areas, alignment, placed } = shown.ask;
  const fixed = placed.map((item) => {
    const device = devices.find((each) => each.name === item.device);
    return { device: item.device, area: item.area, at: item.at, length: device[HOMES[item.area]], fixed: true };
  });
  const isFixed = (name, data) => fixed.some((block) => block.device === name && HOMES[block.area] === data);
  const blocks = devices.flatMap((device) =>
    Object.keys(VERBS)
      .filter((data) => device[data] > 0 && !isFixed(device.name, data))
      .map((data) => makeBlock(device, data)),
  );
  const areaNames = Object.keys(areas).filter((area) => areas[area] > 0);
  const grids = new Map(areaNames.map((area) => [area, byteGrid({ area, bytes: areas[area], boundary: alignment })]));
  let picked = null;

  function makeBlock(device, data) {
    const what = `${device.name} ${VERBS[data]} ${bytesText(device[data])}`;
    const chip = element("button", { type: "button", class: "lk-chip", "aria-pressed": "false", title: `Drag ${what} onto the map, or press here and then a byte` });
    chip.append(element("strong", {}, device.name), element("span", {}, `${VERBS[data]} ${bytesText(device[data])}`));
    const area = element("select", { class: "lk-input lk-area-of", "aria-label": `Area for what ${device.name} ${VERBS[data]}` });
    for (const name of ["", "input", "output"]) area.append(element("option", { value: name }, name || "–"));
    const at = element("input", {
      type: "text",
      inputmode: "numeric",
      class: "lk-input lk-at",
      maxlength: 12,
      autocomplete: "off",
      "aria-label": `First byte of what ${device.name} ${VERBS[data]}`,
    });
    return { key: `${data} ${device.name}`, device: device.name, data, length: device[data], chip, area, at };
  }

  function draw() {
    for (const [area, grid] of grids) {
      const mine = blocks
        .filter((block) => block.area.value === area)
        .map((block) => ({ key: block.key, device: block.device, at: readByte(block.at.value), length: block.length }));
      grid.draw([...fixed.filter((block) => block.area === area), ...mine]);
    }
    const done = blocks.filter((block) => block.area.value && block.at.value.trim()).length;
    const there = fixed.length ? "What is only outlined lies there already." : "";
    caption.textContent = `${done} of ${blocks.length} blocks have a place. ${BOUNDARIES[alignment]}${there}`;
  }

  function pick(block) {
    picked = block;
    for (const each of blocks) each.chip.setAttribute("aria-pressed", String(each === block));
    root.classList.toggle("lk-block-placing", block !== null);
  }

  function put(block, area, byte) {
    block.area.value = area;
    block.at.value = String(Math.max(0, byte));
    pick(null);
    draw();
    changed();
    settled();
  }

  function spot(x, y) {
    for (const [area, grid] of grids) {
      const byte = grid.byteAt(x, y);
      if (byte !== null) return { area, byte };
    }
    return null;
  }

  function aim(found) {
    for (const cell of root.querySelectorAll(".lk-byte-aim")) cell.classList.remove("lk-byte-aim");
    if (found) root.querySelector(`[data-area="${found.area}"][data-byte="${found.byte}"]`)?.classList.add("lk-byte-aim");
  }

  // `grip`: the byte that a block is held at.
  const drags = dragging(root);
  function drag(event, block, grip) {
    drags.start(event, `${block.device}, ${bytesText(block.length)}`, {
      over(x, y) {
        const found = spot(x, y);
        aim(found && { area: found.area, byte: Math.max(0, found.byte - grip) });
      },
      drop(x, y) {
        const found = spot(x, y);
        if (found) put(block, found.area, found.byte - grip);
      },
      end: () => aim(null),
    });
  }

  const caption = element("p", { class: "lk-caption" });
  const rows = blocks.map((block) => {
    block.chip.addEventListener("pointerdown", (event) => drag(event, block, 0));
    block.chip.addEventListener("click", () => {
      if (!drags.justEnded()) pick(picked === block ? null : block);
    });
    for (const field of [block.area, block.at]) {
      field.addEventListener("input", () => {
        draw();
        changed();
      });
      field.addEventListener("change", settled);
    }
    return element("tr", {}, element("td", {}, block.chip), element("td", {}, block.area), element("td", {}, block.at));
  });
  const head = ["Block: drag it, or press it and then a byte", "Area", "First byte"];
  const table = element(
    "table",
    { class: "lk-plan lk-tray" },
    element("thead", {}, element("tr", {}, ...head.map((word) => element("th", { scope: "col" }, word)))),
    element("tbody", {}, ...rows),
  );
  const maps = [...grids].map(([area, grid]) =>
    element("div", {}, element("p", { class: "lk-area-title" }, `Scanner's ${area} area, ${bytesText(areas[area])}`), grid.node),
  );
  for (const map of maps) {
    map.addEventListener("pointerdown", (event) => {
      const piece = event.target instanceof Element && event.target.closest(".lk-block[data-block]");
      if (!(piece instanceof HTMLElement) || picked) return;
      const block = blocks.find((each) => each.key === piece.dataset.block);
      const found = spot(event.clientX, event.clientY);
      event.preventDefault();
      drag(event, block, found ? found.byte - (readByte(block.at.value) ?? 0) : 0);
    });
    map.addEventListener("click", (event) => {
      const found = spot(event.clientX, event.clientY);
      if (found && picked && !drags.justEnded()) put(picked, found.area, found.byte);
    });
  }
  root.classList.add("lk-io-map");
  root.append(
    element("div", { class: "lk-columns" }, table, element("div", { class: "lk-maps" }, ...maps, bitsSwitch([...grids.values()]))),
    caption,
  );
  root.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Escape") pick(null);
  });
  draw();

  return {
    get: () => {
      const answer = { produced: {}, consumed: {} };
      for (const block of blocks) {
        answer[block.data][block.device] = { area: block.area.value, at: block.at.value.trim() };
      }
      return answer;
    },
    set: (answer) => {
      for (const block of blocks) {
        const place = answer?.[block.data]?.[block.device];
        block.area.value = place?.area === "input" || place?.area === "output" ? place.area : "";
        block.at.value = ["string", "number"].includes(typeof place?.at) ? place.at : "";
      }
      draw();
    },
  };
}

export default { render: exercise(build) };
