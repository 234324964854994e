/** @import { Build } from "./frame.js" */

import { cellField, fieldsByName, markedExercise, walkWithKeys } from "./cells.js";
import { element } from "./elements.js";

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const { columns, rows } = shown.ask;
  const fields = new Map();
  const grid = [];
  // As in the check: a row is called by its first given cell, rows that share it by all of theirs.
  const givens = rows.map((row) => row.filter((cell) => cell.text).map((cell) => cell.text.replace(/\.+$/, "")));
  const headOf = (index) => {
    const [first] = givens[index];
    if (first === undefined) return `Row ${index + 1}`;
    return givens.filter((given) => given[0] === first).length > 1 ? givens[index].join(", ") : first;
  };
  const body = rows.map((row, index) => {
    const first = row.findIndex((cell) => cell.text);
    const head = headOf(index);
    grid.push([]);
    return element("tr", {}, ...row.map((cell, column) => {
      if (cell.name === undefined) {
        grid[index].push(undefined);
        return column === first
          ? element("th", { scope: "row" }, cell.text)
          : element("td", { class: /^[\d.,+\-\u2212 ]+( \S+)?$/.test(cell.text) ? "lk-table-figure" : "" }, cell.text);
      }
      const field = cellField(cell, `${head}, ${columns[column]}`, { changed, settled });
      fields.set(cell.name, field);
      grid[index].push(field);
      return element("td", { class: "lk-blank" }, field.node);
    }));
  });
  const heads = columns.map((text) => element("th", { scope: "col" }, text));
  root.append(
    element("div", { class: "lk-sheet" }, element(
      "table",
      { class: "lk-table", "aria-label": shown.title },
      element("thead", {}, element("tr", {}, ...heads)),
      element("tbody", {}, ...body),
    )),
  );
  walkWithKeys(root, grid, submit);
  return fieldsByName(fields);
}

export default { render: markedExercise(build) };
