// The fields of a form, made from what a kind says of them. Each control shows a value, gives it back, and tells
// what is wrong at its own place.

import { button, element, newToken } from "./elements.js";

/**
 * @typedef {{ name: string, form: string, needed: boolean, tells: string, usual: string, choices: string[], least: number, fields: Field[], at_hand: boolean }} Field
 * @typedef {{ sentence: string, mend: string, path: (string | number)[] }} Wrong
 * @typedef {{ node: HTMLElement, value: () => any, isEmpty: () => boolean, tell: (path: (string | number)[], wrong: Wrong) => boolean, untell: () => void }} Control
 */

const LINES = "as written";
const NOT_OF_KIND = "No field of this kind: empty it to take it out.";
const AS_IN_FILE = "As it stands in the file, with its own lines.";

/** @param {string} name - as it stands in the file */
export function wordsOf(name) {
  const words = name.replaceAll("_", " ");
  return words.slice(0, 1).toUpperCase() + words.slice(1);
}

// How much of it can be seen grows with what is typed.
/** @param {HTMLTextAreaElement} area */
function grows(area) {
  const fit = () => {
    area.style.height = "auto";
    area.style.height = `${area.scrollHeight + 2}px`;
  };
  area.addEventListener("input", fit);
  new ResizeObserver(() => area.isConnected && fit()).observe(area);
}

/**
 * A label, a control, what is told of the field, and what is wrong with it.
 * @param {Field} field @param {string} words @param {HTMLElement & { value: string }} input
 */
function labelled(field, words, input) {
  const id = `pf-${newToken()}`;
  input.id = id;
  const help = element("span", { class: "pf-help", id: `${id}-help` }, helpOf(field));
  const wrong = element("span", { class: "pf-wrong", id: `${id}-wrong` });
  input.setAttribute("aria-describedby", `${id}-help ${id}-wrong`);
  if (field.needed) input.setAttribute("aria-required", "true");
  const name = element("label", { class: "pf-name", for: id }, words);
  const node = element("div", { class: "pf-field" }, name, input, help, wrong);
  return { node, ...telling(wrong, input) };
}

/** @param {Field} field */
function helpOf({ needed, tells, usual, form }) {
  const lines = form === LINES ? [AS_IN_FILE] : [];
  const left = needed ? [] : [usual ? `May be left out: then ${usual}.` : "May be left out."];
  return [tells, ...lines, ...left].filter(Boolean).join(" ");
}

/** @param {HTMLElement} place @param {HTMLElement} [input] */
function telling(place, input) {
  return {
    /** @param {(string | number)[]} _path @param {Wrong} wrong */
    tell(_path, { sentence, mend }) {
      place.append(element("span", {}, `${sentence} ${mend}`));
      input?.setAttribute("aria-invalid", "true");
      for (let node = place.parentElement; node; node = node.parentElement) if (node instanceof HTMLDetailsElement) node.open = true;
      return true;
    },
    untell() {
      place.replaceChildren();
      input?.removeAttribute("aria-invalid");
    },
  };
}

/** @param {Field} field @param {string} words @param {any} value @returns {Control} */
function textControl(field, words, value) {
  const isLines = field.form === LINES;
  const input = element("textarea", { class: isLines ? "pf-input pf-lines" : "pf-input", rows: 1, spellcheck: isLines ? "false" : "true" });
  input.value = (isLines ? value?.lines : value) ?? "";
  grows(input);
  const { node, tell, untell } = labelled(field, words, input);
  const given = () => (isLines ? { lines: input.value } : input.value);
  return { node, tell, untell, value: given, isEmpty: () => !input.value.trim() };
}

/** @param {Field} field @param {string} words @param {any} value @returns {Control} */
function numberControl(field, words, value) {
  const input = element("input", { class: "pf-input pf-short", inputmode: "decimal", autocomplete: "off" });
  input.value = value ?? "";
  const { node, tell, untell } = labelled(field, words, input);
  return { node, tell, untell, value: () => input.value.trim(), isEmpty: () => !input.value.trim() };
}

/** @param {Field} field @param {string} words @param {any} value @returns {Control} */
function choiceControl(field, words, value) {
  const known = field.form === "yes or no" ? ["yes", "no"] : field.choices;
  const offered = ["", ...known, ...(value && !known.includes(value) ? [value] : [])];
  const input = element("select", { class: "pf-input pf-short" }, ...offered.map((each) => element("option", { value: each }, each || "not said")));
  input.value = value ?? "";
  const { node, tell, untell } = labelled(field, words, input);
  return { node, tell, untell, value: () => input.value, isEmpty: () => !input.value };
}

/** @param {Field} field @param {string} words @param {any} value @returns {Control} */
function groupControl(field, words, value) {
  const inner = groupOf(field.fields, value ?? {});
  const wrong = element("p", { class: "pf-wrong" });
  const own = telling(wrong);
  const node = element(
    "fieldset",
    { class: "pf-group" },
    element("legend", {}, words),
    element("p", { class: "pf-help" }, helpOf(field)),
    wrong,
    ...inner.nodes,
  );
  return {
    node,
    value: () => (inner.isEmpty() ? null : inner.value()),
    isEmpty: inner.isEmpty,
    tell: (path, told) => inner.tell(path, told) || own.tell(path, told),
    untell() {
      own.untell();
      inner.untell();
    },
  };
}

/** @param {HTMLElement | undefined} node @param {string} which */
function focusIn(node, which) {
  const found = node?.querySelector(which);
  if (found instanceof HTMLElement) found.focus();
}

/** @typedef {{ was: number | null, node: HTMLElement, control: Control | Group, name: HTMLElement }} RowShown */

/** A list, an item a row: rows can be added, moved and taken out. */
class Rows {
  /** @param {Field} field @param {string} words @param {any} value */
  constructor(field, words, value) {
    this.field = field;
    this.words = words;
    /** @type {RowShown[]} */
    this.rows = [];
    this.list = element("ol", { class: "pf-rows" });
    this.wrong = element("p", { class: "pf-wrong" });
    this.own = telling(this.wrong);
    this.more = button(`+ ${words}: one more`, () => this.add(), { class: "pf-small" });
    this.node = element(
      "fieldset",
      { class: "pf-group" },
      element("legend", {}, words),
      element("p", { class: "pf-help" }, helpOf(field)),
      this.wrong,
      this.list,
      this.more,
    );
    for (const { was, now } of value ?? []) this.rows.push(this.row(was, now));
    // What a new exercise needs at least is there to be filled in.
    while (field.needed && !value && this.rows.length < field.least) this.rows.push(this.row(null, undefined));
    this.show();
  }

  /** @param {number | null} was @param {any} now @returns {RowShown} */
  row(was, now) {
    const one = { ...this.field, form: "text", needed: true, tells: "" };
    const isText = this.field.form === "texts";
    const control = isText ? textControl(one, this.words, now) : groupOf(this.field.fields, now ?? {});
    const name = element("b", {});
    /** @type {RowShown} */
    const row = { was, control, name, node: element("li", { class: isText ? "pf-row pf-row-text" : "pf-row" }) };
    const press = (sign, does, act) => button(sign, act, { class: "pf-small", "data-does": does });
    const presses = [press("↑", "up", () => this.move(row, -1)), press("↓", "down", () => this.move(row, 1)), press("−", "out", () => this.takeOut(row))];
    if ("nodes" in control) row.node.append(element("div", { class: "pf-row-head" }, name, ...presses), ...control.nodes);
    else row.node.append(name, control.node, ...presses);
    return row;
  }

  add() {
    this.rows.push(this.row(null, undefined));
    this.show();
    focusIn(this.rows.at(-1)?.node, "textarea, input, select");
    this.changed();
  }

  /** @param {RowShown} row @param {number} by */
  move(row, by) {
    const at = this.rows.indexOf(row);
    if (!this.rows[at + by]) return;
    this.rows.splice(at, 1);
    this.rows.splice(at + by, 0, row);
    this.show();
    focusIn(row.node, `[data-does="${by < 0 ? "up" : "down"}"]:enabled, [data-does="out"]`);
    this.changed();
  }

  /** @param {RowShown} row */
  takeOut(row) {
    this.rows.splice(this.rows.indexOf(row), 1);
    this.show();
    this.more.focus();
    this.changed();
  }

  show() {
    this.list.replaceChildren(...this.rows.map(({ node }) => node));
    this.rows.forEach(({ name, node }, at) => {
      const called = `${this.words}, number ${at + 1}`;
      name.textContent = `${at + 1}.`;
      node.setAttribute("aria-label", called);
      if (this.field.form === "texts") node.querySelector("label")?.replaceChildren(called);
      const press = (does) => /** @type {HTMLButtonElement} */ (node.querySelector(`[data-does="${does}"]`));
      press("up").setAttribute("aria-label", `${called}: one up`);
      press("down").setAttribute("aria-label", `${called}: one down`);
      press("out").setAttribute("aria-label", `${called}: take it out`);
      press("up").disabled = at === 0;
      press("down").disabled = at === this.rows.length - 1;
    });
  }

  // What is shown of the lines to be written holds no more.
  changed() {
    this.node.dispatchEvent(new Event("input", { bubbles: true }));
  }

  value() {
    return this.rows.length ? this.rows.map(({ was, control }) => ({ was, now: control.value() })) : null;
  }

  isEmpty() {
    return !this.rows.length;
  }

  /** @param {(string | number)[]} path @param {Wrong} told */
  tell([at, ...inner], told) {
    const row = typeof at === "number" ? this.rows[at] : undefined;
    return row?.control.tell(inner, told) || this.own.tell(inner, told);
  }

  untell() {
    this.own.untell();
    for (const { control } of this.rows) control.untell();
  }
}

/** @param {Field} field @param {any} value @returns {Control} */
function controlOf(field, value) {
  const words = wordsOf(field.name);
  // What stands in the file may be of another form than this kind asks for.
  if (typeof value?.lines === "string") return textControl({ ...field, form: LINES }, words, value);
  if (field.form === "texts" || field.form === "rows") {
    const rows = new Rows(field, words, value);
    return { node: rows.node, value: () => rows.value(), isEmpty: () => rows.isEmpty(), tell: (path, told) => rows.tell(path, told), untell: () => rows.untell() };
  }
  if (field.form === "group") return groupControl(field, words, value);
  if (field.form === "number") return numberControl(field, words, value);
  if (field.form === "yes or no" || field.form === "one of") return choiceControl(field, words, value);
  return textControl(field, words, value);
}

/** @typedef {{ nodes: HTMLElement[], value: () => Record<string, any>, isEmpty: () => boolean, tell: (path: (string | number)[], wrong: Wrong) => boolean, untell: () => void }} Group */

/**
 * The controls of a group. With `folds`, what may be left out and is not there waits in a fold.
 * @param {Field[]} fields @param {Record<string, any>} values @param {boolean} [folds] @returns {Group}
 */
export function groupOf(fields, values, folds = false) {
  const unknown = Object.keys(values).filter((name) => !fields.some((field) => field.name === name));
  const others = unknown.map((name) => ({ name, form: LINES, needed: true, tells: NOT_OF_KIND, usual: "", choices: [], least: 0, fields: [], at_hand: false }));
  const every = [...fields, ...others];
  const controls = new Map(every.map((field) => [field.name, controlOf(field, values[field.name])]));
  const node = ({ name }) => /** @type {Control} */ (controls.get(name)).node;
  const waits = every.filter(({ name, needed, at_hand }) => folds && !needed && !at_hand && !(name in values));
  const nodes = every.filter((field) => !waits.includes(field)).map(node);
  if (waits.length) {
    const names = waits.map(({ name }) => wordsOf(name)).join(", ");
    nodes.push(element("details", { class: "pf-waits" }, element("summary", {}, `What may be said besides: ${names}`), ...waits.map(node)));
  }
  return {
    nodes,
    value: () => Object.fromEntries([...controls].map(([name, control]) => [name, control.value()])),
    isEmpty: () => [...controls.values()].every((control) => control.isEmpty()),
    tell: ([name, ...path], told) => controls.get(String(name))?.tell(path, told) ?? false,
    untell() {
      for (const control of controls.values()) control.untell();
    },
  };
}
