// Small answers: one field each, with a mark beside it once the answer is checked.
//
// What a field's text looks like is checked here too, only to warn of a slip of the hand; Python
// reads the answer itself.

import { element } from "./elements.js";
import { exercise } from "./frame.js";

const FORM = {
  number: /^(\w+ ?= ?|= ?)?[+\-\u2212]?\s*([\d.,\u00bc-\u00be\u2150-\u215e]|R\d)/,
  whole: /^#?\s*[+\-\u2212]?\s*\d[\d '\u2019\u00a0\u202f]*( [a-z]{2,}.*)?$/i,
  hex: /^(0x|16#|\$|&h|hex:? ?)?#?[0-9a-f ]{1,12}(h|hex|\(hex\))?$/i,
  bytes: /^(none|-|–|(hex:? )?((0x|16#|\$|&h)?([0-9a-f]{2})+h?[\s,;.:_-]*)+\(?(hex|h)?\)?)$/i,
};
const WARNING = {
  number: "This does not begin with a number.",
  whole: "This is not a whole number.",
  hex: "This is not a hexadecimal number.",
  bytes: "This is not a row of bytes with two digits each.",
};
const MARKS = { right: ["✓", "right"], wrong: ["✗", "not right"], unreadable: ["?", "cannot be read"] };
const BESIDE = { hex: "hex", bytes: "hex" };

export function cellField(cell, label, { changed, settled }) {
  const beside = cell.write === "number" ? cell.unit : (BESIDE[cell.write] ?? "");
  const mark = element("span", { class: "lk-mark", role: "img" });
  mark.hidden = true;
  const control = cell.write === "word" ? wordField(cell, label) : textField(cell, label, beside);
  const node = element("span", { class: "lk-field" }, control);
  if (beside) node.append(element("span", { class: "lk-unit", "aria-hidden": "true" }, beside));
  node.append(mark);

  function warn() {
    const text = control.value.trim();
    const odd = text !== "" && cell.write !== "word" && !FORM[cell.write].test(text);
    control.classList.toggle("lk-odd", odd);
    control.title = odd ? WARNING[cell.write] : "";
    return odd;
  }

  function setMark(state) {
    const odd = warn();
    show(state ?? (odd ? "odd" : undefined)); // Python's own word goes before a look at the form
  }

  function show(state) {
    const [sign, words] = state === "odd" ? ["?", WARNING[cell.write]] : (MARKS[state] ?? ["", ""]);
    mark.hidden = !sign;
    mark.textContent = sign;
    mark.dataset.state = state ?? "";
    if (sign) mark.setAttribute("aria-label", words);
    if (sign && state !== "right") control.setAttribute("aria-invalid", "true");
    else control.removeAttribute("aria-invalid");
  }

  control.addEventListener("input", () => {
    setMark(undefined);
    changed();
  });
  control.addEventListener("change", settled);
  return {
    node,
    control,
    get: () => control.value.trim(),
    set(value) {
      control.value = typeof value === "string" || typeof value === "number" ? String(value) : "";
      if (control instanceof HTMLSelectElement && control.selectedIndex === -1) control.value = "";
      setMark(undefined);
    },
    setMark,
  };
}

function textField(cell, label, beside) {
  const width = { number: 9, whole: 7, hex: Math.max(8, cell.digits + 2), bytes: 25 }[cell.write];
  const input = element("input", {
    type: "text",
    class: `lk-input lk-cell-input lk-write-${cell.write}`,
    "aria-label": beside ? `${label}, in ${beside}` : label,
    inputmode: { whole: "numeric", number: "decimal" }[cell.write] ?? "text",
    autocomplete: "off",
    spellcheck: "false",
    maxlength: 60,
  });
  input.style.width = `${width + 2}ch`;
  return input;
}

function wordField(cell, label) {
  const choices = cell.words.map((word) => element("option", { value: word }, word));
  return element(
    "select",
    { class: "lk-input lk-cell-input lk-write-word", "aria-label": label },
    element("option", { value: "" }, "choose …"),
    ...choices,
  );
}

function caretIsAt(control, end) {
  if (control.tagName === "SELECT") return true;
  const { selectionStart: from, selectionEnd: to, value } = control;
  return end === "left" ? from === 0 && to === 0 : from === value.length && to === value.length;
}

function goTo(field) {
  if (!field) return false;
  field.control.focus();
  field.control.select?.();
  return true;
}

// grid: rows of fields, undefined where a cell holds none. Arrows walk, Enter goes on.
export function walkWithKeys(root, grid, submit) {
  const all = grid.flat().filter(Boolean);
  const find = (control) => {
    for (const [row, fields] of grid.entries()) {
      const column = fields.findIndex((field) => field?.control === control);
      if (column >= 0) return [row, column];
    }
    return null;
  };

  function next(row, column, rowStep, columnStep) {
    let [r, c] = [row + rowStep, column + columnStep];
    while (grid[r] !== undefined && c >= 0 && c < grid[r].length) {
      if (grid[r][c]) return grid[r][c];
      [r, c] = [r + rowStep, c + columnStep];
    }
    return undefined;
  }

  root.addEventListener("keydown", (event) => {
    event.stopPropagation(); // letters are an answer here, not shortcuts of the notebook
    const at = find(event.target);
    if (!at || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
    const isSelect = event.target.tagName === "SELECT";
    let gone = false;
    if (event.key === "ArrowUp" && !isSelect) gone = goTo(next(...at, -1, 0));
    else if (event.key === "ArrowDown" && !isSelect) gone = goTo(next(...at, 1, 0));
    else if (event.key === "ArrowLeft" && caretIsAt(event.target, "left")) gone = goTo(next(...at, 0, -1)) || isSelect;
    else if (event.key === "ArrowRight" && caretIsAt(event.target, "right")) gone = goTo(next(...at, 0, 1)) || isSelect;
    else if (event.key === "Enter") {
      const index = all.findIndex((field) => field.control === event.target);
      if (!goTo(all[index + 1])) submit();
      gone = true;
    }
    if (gone) event.preventDefault();
  });
}

export function fieldsByName(fields) {
  return {
    get: () => Object.fromEntries([...fields].map(([name, field]) => [name, field.get()])),
    set(answer) {
      for (const [name, field] of fields) field.set(answer?.[name]);
    },
    // Only what still stands as it was checked is marked.
    mark(states, answer) {
      for (const [name, field] of fields)
        field.setMark(field.get() === (answer?.[name] ?? "") ? states[name] : undefined);
    },
  };
}

// As `exercise` of frame.js; the area that `build` returns may also `mark` its fields.
export function markedExercise(build) {
  return (context) => {
    const { model } = context;
    let area = null;
    const end = exercise((root, hooks) => (area = build(root, hooks)))(context);
    const mark = () => {
      const saved = model.get("saved");
      area.mark(saved.verdict?.cells ?? {}, saved.answer);
    };
    model.on("change:saved", mark);
    mark();
    return () => {
      model.off("change:saved", mark);
      end();
    };
  };
}
