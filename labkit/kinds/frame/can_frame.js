/** @import { Build } from "./frame.js" */

import { cellField, fieldsByName, markedExercise, walkWithKeys } from "./cells.js";
import { element } from "./elements.js";

function drawnFrame(frame, number, many) {
  const bytes = frame.data.map((byte, at) =>
    element("span", { class: "lk-byte" }, element("span", { class: "lk-octet" }, byte), element("small", {}, at ? String(at) : "byte 0")),
  );
  if (!bytes.length) bytes.push(element("span", { class: "lk-nodata" }, "no data"));
  const words =
    `${many ? `Frame ${number}: ` : ""}identifier ${frame.identifier} hexadecimal, ` +
    (frame.data.length ? `data bytes ${frame.data.join(" ")}` : "no data bytes");
  return element(
    "figure",
    { class: "lk-canframe", role: "img", "aria-label": words },
    element(
      "div",
      { class: "lk-strip" },
      element("span", { class: "lk-byte lk-ident" }, element("span", { class: "lk-octet" }, frame.identifier), element("small", {}, "identifier, hex")),
      element("span", { class: "lk-bytes" }, ...bytes),
    ),
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
