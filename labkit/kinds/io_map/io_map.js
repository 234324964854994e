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

// One block in the tray: what it is, and the fields that say where it lies.
function makeBlock(device, data) {
  const does = `${VERBS[data]} ${bytesText(device[data])}`;
  const chip = element(
    "button",
    {
      type: "button",
      class: "lk-chip",
      "aria-pressed": "false",
      title: `Drag ${device.name} ${does} onto the map, or press here and then a byte`,
    },
    element("strong", {}, device.name),
    element("span", {}, does),
  );
  const area = element(
    "select",
    { class: "lk-input lk-area-of", "aria-label": `Area for what ${device.name} ${VERBS[data]}` },
    ...["", "input", "output"].map((name) => element("option", { value: name }, name || "–")),
  );
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

// The blocks that lie there already, and those that are to be laid.
function blocksOf({ devices, placed }) {
  const fixed = placed.map(({ device, area, at }) => {
    const length = devices.find((each) => each.name === device)[HOMES[area]];
    return { device, area, at, length, fixed: true };
  });
  const isFixed = (name, data) => fixed.some((block) => block.device === name && HOMES[block.area] === data);
  const blocks = devices.flatMap((device) =>
    Object.keys(VERBS)
      .filter((data) => device[data] > 0 && !isFixed(device.name, data))
      .map((data) => makeBlock(device, data)),
  );
  return { fixed, blocks };
}

function tray(blocks) {
  const rows = blocks.map(({ chip, area, at }) =>
    element("tr", {}, ...[chip, area, at].map((cell) => element("td", {}, cell))),
  );
  const head = ["Block: drag it, or press it and then a byte", "Area", "First byte"];
  return element(
    "table",
    { class: "lk-plan lk-tray" },
    element("thead", {}, element("tr", {}, ...head.map((word) => element("th", { scope: "col" }, word)))),
    element("tbody", {}, ...rows),
  );
}

class IoMap {
  constructor(root, ask, { changed, settled }) {
    const { areas, alignment } = ask;
    const names = Object.keys(areas).filter((area) => areas[area] > 0);
    const { fixed, blocks } = blocksOf(ask);
    this.root = root;
    this.alignment = alignment;
    this.changed = changed;
    this.settled = settled;
    this.fixed = fixed;
    this.blocks = blocks;
    this.grids = new Map(names.map((area) => [area, byteGrid({ area, bytes: areas[area], boundary: alignment })]));
    this.picked = null;
    this.drags = dragging(root);
    this.caption = element("p", { class: "lk-caption" });
    for (const block of blocks) this.listenTo(block);
    const maps = [...this.grids].map(([area, grid]) => this.map(`Scanner's ${area} area, ${bytesText(areas[area])}`, grid));
    const drawn = element("div", { class: "lk-maps" }, ...maps, bitsSwitch([...this.grids.values()]));
    root.classList.add("lk-io-map");
    root.append(element("div", { class: "lk-columns" }, tray(blocks), drawn), this.caption);
    root.addEventListener("keydown", (event) => {
      event.stopPropagation();
      if (event.key === "Escape") this.pick(null);
    });
    this.draw();
  }

  listenTo(block) {
    block.chip.addEventListener("pointerdown", (event) => this.drag(event, block, 0));
    block.chip.addEventListener("click", () => {
      if (!this.drags.justEnded()) this.pick(this.picked === block ? null : block);
    });
    for (const field of [block.area, block.at]) {
      field.addEventListener("input", () => {
        this.draw();
        this.changed();
      });
      field.addEventListener("change", this.settled);
    }
  }

  map(title, grid) {
    const node = element("div", {}, element("p", { class: "lk-area-title" }, title), grid.node);
    node.addEventListener("pointerdown", (event) => {
      const piece = event.target instanceof Element && event.target.closest(".lk-block[data-block]");
      if (!(piece instanceof HTMLElement) || this.picked) return;
      const block = this.blocks.find((each) => each.key === piece.dataset.block);
      const found = this.spot(event.clientX, event.clientY);
      event.preventDefault();
      this.drag(event, block, found ? found.byte - (readByte(block.at.value) ?? 0) : 0);
    });
    node.addEventListener("click", (event) => {
      const found = this.spot(event.clientX, event.clientY);
      if (found && this.picked && !this.drags.justEnded()) this.put(this.picked, found.area, found.byte);
    });
    return node;
  }

  draw() {
    for (const [area, grid] of this.grids) {
      const mine = this.blocks
        .filter((block) => block.area.value === area)
        .map((block) => ({ key: block.key, device: block.device, at: readByte(block.at.value), length: block.length }));
      grid.draw([...this.fixed.filter((block) => block.area === area), ...mine]);
    }
    const done = this.blocks.filter((block) => block.area.value && block.at.value.trim()).length;
    const there = this.fixed.length ? "What is only outlined lies there already." : "";
    this.caption.textContent = `${done} of ${this.blocks.length} blocks have a place. ${BOUNDARIES[this.alignment]}${there}`;
  }

  pick(block) {
    this.picked = block;
    for (const each of this.blocks) each.chip.setAttribute("aria-pressed", String(each === block));
    this.root.classList.toggle("lk-block-placing", block !== null);
  }

  put(block, area, byte) {
    block.area.value = area;
    block.at.value = String(Math.max(0, byte));
    this.pick(null);
    this.draw();
    this.changed();
    this.settled();
  }

  spot(x, y) {
    for (const [area, grid] of this.grids) {
      const byte = grid.byteAt(x, y);
      if (byte !== null) return { area, byte };
    }
    return null;
  }

  aim(found) {
    for (const cell of this.root.querySelectorAll(".lk-byte-aim")) cell.classList.remove("lk-byte-aim");
    if (!found) return;
    const cell = this.root.querySelector(`[data-area="${found.area}"][data-byte="${found.byte}"]`);
    cell?.classList.add("lk-byte-aim");
  }

  // `grip`: the byte that a block is held at.
  drag(event, block, grip) {
    this.drags.start(event, `${block.device}, ${bytesText(block.length)}`, {
      over: (x, y) => {
        const found = this.spot(x, y);
        this.aim(found && { area: found.area, byte: Math.max(0, found.byte - grip) });
      },
      drop: (x, y) => {
        const found = this.spot(x, y);
        if (found) this.put(block, found.area, found.byte - grip);
      },
      end: () => this.aim(null),
    });
  }

  get() {
    const answer = { produced: {}, consumed: {} };
    for (const { data, device, area, at } of this.blocks) {
      answer[data][device] = { area: area.value, at: at.value.trim() };
    }
    return answer;
  }

  set(answer) {
    for (const block of this.blocks) {
      const place = answer?.[block.data]?.[block.device];
      block.area.value = place?.area === "input" || place?.area === "output" ? place.area : "";
      block.at.value = ["string", "number"].includes(typeof place?.at) ? place.at : "";
    }
    this.draw();
  }
}

export default { render: exercise((root, hooks) => new IoMap(root, hooks.shown.ask, hooks)) };
