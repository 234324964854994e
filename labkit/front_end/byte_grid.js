// A memory area drawn as a grid of bytes, with blocks of bytes lying in it.
//
// byteGrid({ area, bytes, boundary }) returns { node, draw(blocks), showBits(on), byteAt(x, y) }.
// A block is { device, at, length, fixed }; one with at === null is not drawn.

import { element } from "./elements.js";

const ROW = { bytes: 8, bits: 4 };
const BITS = ["7", "6", "5", "4", "3", "2", "1", "0"];

// One byte of the area; `owners` are the blocks that lie on it.
function byteCell({ area, boundary }, byte, owners, withBits) {
  const number = owners.length > 1 ? `${byte} ⚠` : String(byte);
  const cell = element(
    "div",
    { class: "lk-memory-byte", "data-byte": byte, "data-area": area },
    element("span", { class: "lk-memory-number" }, number),
  );
  cell.classList.toggle("lk-boundary", boundary > 1 && byte % boundary === 0);
  cell.classList.toggle("lk-clash", owners.length > 1);
  if (withBits) cell.append(element("span", { class: "lk-bits" }, ...BITS.map((bit) => element("span", {}, bit))));
  return cell;
}

// A block, in as many pieces as it takes rows; `under` another block.
function pieces(block, { area, bytes }, across, under) {
  if (block.at === null) return [];
  const found = [];
  const end = Math.min(block.at + block.length, bytes);
  for (let from = block.at; from < end; from = (Math.floor(from / across) + 1) * across) {
    const to = Math.min(end, (Math.floor(from / across) + 1) * across);
    const piece = element("div", { class: "lk-block", title: words(block, area) }, from === block.at ? block.device : "↳");
    piece.classList.toggle("lk-fixed", block.fixed === true);
    piece.classList.toggle("lk-block-first", from === block.at);
    piece.classList.toggle("lk-block-last", to === block.at + block.length);
    piece.classList.toggle("lk-under", under);
    piece.style.gridArea = `${Math.floor(from / across) + 1} / ${(from % across) + 2} / auto / span ${to - from}`;
    if (block.key) piece.dataset.block = block.key;
    found.push(piece);
  }
  return found;
}

function words(block, area) {
  const last = block.at + block.length - 1;
  const span = last > block.at ? `bytes ${block.at} to ${last}` : `byte ${block.at}`;
  return `${block.device}: ${span} of the ${area} area`;
}

export function byteGrid(memory) {
  const { area, bytes } = memory;
  const name = `The ${area} area, ${bytes} bytes`;
  const node = element("div", { class: "lk-memory", role: "img", "aria-label": name });
  let withBits = false;
  let drawn = [];

  function layOut() {
    const across = withBits ? ROW.bits : ROW.bytes;
    node.classList.toggle("lk-with-bits", withBits);
    node.style.gridTemplateColumns = `2.6em repeat(${across}, minmax(0, 1fr))`;
    node.replaceChildren();
    for (let byte = 0; byte < bytes; byte += 1) {
      const row = Math.floor(byte / across) + 1;
      if (byte % across === 0) {
        const label = element("div", { class: "lk-row-start" }, String(byte));
        label.style.gridArea = `${row} / 1`;
        node.append(label);
      }
      const owners = drawn.filter((block) => covers(block, byte));
      const cell = byteCell(memory, byte, owners, withBits);
      cell.style.gridArea = `${row} / ${(byte % across) + 2}`;
      node.append(cell);
    }
    drawn.forEach((block, index) => {
      const under = drawn.slice(0, index).some((other) => overlap(block, other));
      node.append(...pieces(block, memory, across, under));
    });
  }

  layOut();
  return {
    node,
    draw(blocks) {
      drawn = blocks;
      layOut();
      const placed = drawn.filter((block) => block.at !== null).map((block) => words(block, area));
      node.setAttribute("aria-label", `${name}. ${placed.join("; ") || "empty"}.`);
    },
    showBits(on) {
      withBits = on;
      layOut();
    },
    byteAt(x, y) {
      const cells = document.elementsFromPoint(x, y).filter((found) => found.matches(".lk-memory-byte"));
      const cell = cells.find((found) => node.contains(found));
      return cell instanceof HTMLElement ? Number(cell.dataset.byte) : null;
    },
  };
}

function covers(block, byte) {
  return block.at !== null && block.at <= byte && byte < block.at + block.length;
}

function overlap(one, other) {
  if (one.at === null || other.at === null) return false;
  return one.at < other.at + other.length && other.at < one.at + one.length;
}

export function bitsSwitch(grids) {
  const box = element("input", { type: "checkbox" });
  box.addEventListener("change", () => {
    for (const grid of grids) grid.showBits(box.checked);
  });
  return element("label", { class: "lk-bits-switch" }, box, "Show the bits of each byte");
}
