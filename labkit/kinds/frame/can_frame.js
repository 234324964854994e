/** @import { Build } from "./frame.js" */

import { cellField, fieldsByName, markedExercise, walkWithKeys } from "./cells.js";
import { element } from "./elements.js";

function octet(text, below, kinds = "lk-byte") {
  return element("span", { class: kinds }, element("span", { class: "lk-octet" }, text), element("small", {}, below));
}

function drawnFrame(frame, number, many) {
  const bytes = frame.data.map((byte, at) => octet(byte, at ? String(at) : "byte 0"));
  if (!bytes.length) bytes.push(element("span", { class: "lk-nodata" }, "no data"));
  // Not every family's frames have an identifier.
  const identifiers = frame.identifier ? [octet(frame.identifier, "identifier, hex", "lk-byte lk-ident")] : [];
  const words =
    (many ? `Frame ${number}: ` : "") +
    (frame.identifier ? `identifier ${frame.identifier} hexadecimal, ` : "") +
    (frame.data.length ? `data bytes ${frame.data.join(" ")}` : "no data bytes");
  return element(
    "figure",
    { class: "lk-canframe", role: "img", "aria-label": words },
    element("div", { class: "lk-strip" }, ...identifiers, element("span", { class: "lk-bytes" }, ...bytes)),
    element("code", { class: "lk-logline" }, frame.line),
  );
}

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const { task, frames } = shown.ask;
  const many = frames.length > 1;
  const fields = new Map();
  const grid = [];
  frames.forEach((frame, index) => {
    const name = many ? `Frame ${index + 1}` : "";
    const lines = frame.fields.map((cell) => {
      const field = cellField(cell, name ? `${name}, ${cell.label}` : cell.label, { changed, settled });
      fields.set(cell.name, field);
      grid.push([field]);
      const wide = cell.write === "bytes" || cell.words?.some((word) => word.length > 22);
      return element("div", { class: `lk-factline${wide ? " lk-wide" : ""}` }, element("span", { class: "lk-fact" }, cell.label), field.node);
    });
    const block = element("section", { class: "lk-frameblock" });
    if (many) block.append(element("h4", {}, name));
    if (task === "read") block.append(drawnFrame(frame, index + 1, many));
    block.append(element("div", { class: "lk-facts" }, ...lines));
    root.append(block);
  });
  walkWithKeys(root, grid, submit);
  return fieldsByName(fields);
}

export default { render: markedExercise(build) };
