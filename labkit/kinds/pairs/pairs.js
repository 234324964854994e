/** @import { Build } from "./frame.js" */

import { cellField, fieldsByName, markedExercise, walkWithKeys } from "./cells.js";
import { element } from "./elements.js";

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const { columns, rows } = shown.ask;
  const fields = new Map();
  const grid = [];
  const lines = rows.map(([thing, cell]) => {
    const field = cellField(cell, `${thing.text.replace(/\.+$/, "")}, ${columns[1]}`, { changed, settled });
    fields.set(cell.name, field);
    grid.push([field]);
    return element("li", { class: "lk-pair" }, element("span", { class: "lk-pair-thing" }, thing.text), field.node);
  });
  root.append(
    element("p", { class: "lk-pair lk-pair-heads", "aria-hidden": "true" }, ...columns.map((head) => element("span", {}, head))),
    element("ul", { class: "lk-pairs", "aria-label": `${columns[0]}, each with its ${columns[1]}` }, ...lines),
  );
  walkWithKeys(root, grid, submit);
  return fieldsByName(fields);
}

export default { render: markedExercise(build) };
