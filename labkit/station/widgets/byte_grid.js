// A memory area drawn as a grid of bytes, with blocks of bytes lying in it.
//
// byteGrid({ area, bytes, boundary }) returns { node, draw(blocks), showBits(on), byteAt(x, y) }.
// A block is { device, at, length, fixed }; one with at === null is not drawn.

import { element } from "./elements.js";

const ROW = { bytes: 8, bits: 4 };

export function byteGrid({ area, bytes, boundary }) {
  const node = element("div", {
    class: "lk-memory",
    role: "img",
    "aria-label": `The ${area} area, ${bytes} bytes`,
  });
  let withBits = false;
  let drawn = [];

  function layOut() {
    const across = withBits ? ROW.bits : ROW.bytes;
    node.classList.toggle("lk-with-bits", withBits);
    node.style.gridTemplateColumns = `2.6em repeat(${across}, minmax(0, 1fr))`;
    node.replaceChildren();
    for (let byte = 0; byte < bytes; byte += 1) {
      const place = { row: Math.floor(byte / across) + 1, column: (byte % across) + 2 };
      if (byte % across === 0) {
        const label = element("div", { class: "lk-row-start" }, String(byte));
        label.style.gridArea = `${place.row} / 1`;
        node.append(label);
      }
      const owners = drawn.filter((block) => covers(block, byte));
      const cell = element("div", { class: "lk-memory-byte", "data-byte": byte, "data-area": area });
      cell.classList.toggle("lk-boundary", boundary > 1 && byte % boundary === 0);
      cell.classList.toggle("lk-clash", owners.length > 1);
      cell.append(element("span", { class: "lk-memory-number" }, owners.length > 1 ? `${byte} ⚠` : String(byte)));
      if (withBits) cell.append(element("span", { class: "lk-bits" }, ...[7, 6, 5, 4, 3, 2, 1, 0].map((bit) => element("span", {}, String(bit)))));
      cell.style.gridArea = `${place.row} / ${place.column}`;
      node.append(cell);
    }
    drawn.forEach((block, index) => {
      const under = drawn.slice(0, index).some((other) => overlap(block, other));
      node.append(...pieces(block, across, under));
    });
  }

  function pieces(block, across, under) {
    if (block.at === null) return [];
    const found = [];
    const end = Math.min(block.at + block.length, bytes);
    for (let from = block.at; from < end; from = (Math.floor(from / across) + 1) * across) {
      const to = Math.min(end, (Math.floor(from / across) + 1) * across);
      const piece = element("div", { class: "lk-block", title: words(block) });
      piece.classList.toggle("lk-fixed", block.fixed === true);
      piece.classList.toggle("lk-block-first", from === block.at);
      piece.classList.toggle("lk-block-last", to === block.at + block.length);
      piece.classList.toggle("lk-under", under);
      piece.style.gridArea = `${Math.floor(from / across) + 1} / ${(from % across) + 2} / auto / span ${to - from}`;
      if (block.key) piece.dataset.block = block.key;
      piece.append(from === block.at ? block.device : "↳");
      found.push(piece);
    }
    return found;
  }

  function words(block) {
    const last = block.at + block.length - 1;
    const span = last > block.at ? `bytes ${block.at} to ${last}` : `byte ${block.at}`;
    return `${block.device}: ${span} of the ${area} area`;
  }

  function tell() {
    const placed = drawn.filter((block) => block.at !== null);
    const list = placed.map(words).join("; ") || "empty";
    node.setAttribute("aria-label", `The ${area} area, ${bytes} bytes. ${list}.`);
  }

  layOut();
  return {
    node,
    draw(blocks) {
      drawn = blocks;
      layOut();
      tell();
    },
    showBits(on) {
      withBits = on;
      layOut();
    },
    byteAt(x, y) {
      const cell = document.elementsFromPoint(x, y).find((found) => found.matches(".lk-memory-byte") && node.contains(found));
      return cell ? Number(cell.dataset.byte) : null;
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
  box.addEventListener("change", () => grids.forEach((grid) => grid.showBits(box.checked)));
  return element("label", { class: "lk-bits-switch" }, box, "Show the bits of each byte");
}
