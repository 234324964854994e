// A ladder diagram that is built by pressing: contacts in series, branches beside them, a coil.
//
// edited() is called after each change.
// A program is { rungs: [{ groups: [[[{ operand, closed }]]], coil: { operand, kind } }] }: groups
// stand in series, the branches of a group side by side.

import { button, element, shape } from "./elements.js";

const MOST = { groups: 5, branches: 4, contacts: 4 };
const COILS = { assign: "", set: "S", reset: "R" };
const COIL_WORDS = { assign: "plain coil", set: "set coil", reset: "reset coil" };

function symbol(paths, text) {
  const svg = shape("svg", { viewBox: "0 0 124 36", "aria-hidden": "true" });
  for (const [d, name] of paths) svg.append(shape("path", { d, class: name }));
  if (text) svg.append(shape("text", { x: 62, y: 23 }, text));
  return svg;
}

function contactSymbol(closed) {
  const slash = closed ? [["M 51 32 L 73 4", "lk-plate"]] : [];
  return symbol([["M 0 18 H 54", "lk-lead lk-lead-in"], ["M 70 18 H 124", "lk-lead lk-lead-out"], ["M 54 6 V 30", "lk-plate"], ["M 70 6 V 30", "lk-plate"], ...slash]);
}

function coilSymbol(kind) {
  return symbol([["M 0 18 H 49", "lk-lead lk-lead-in"], ["M 75 18 H 124", "lk-lead lk-lead-out"], ["M 55 5 Q 43 18 55 31", "lk-plate"], ["M 69 5 Q 81 18 69 31", "lk-plate"]], COILS[kind]);
}

function cleanProgram(program, ids) {
  const list = (value) => (Array.isArray(value) ? value : []);
  const operand = (value) => (ids.includes(value) ? value : "");
  return list(program?.rungs).slice(0, 12).map((rung) => ({
    groups: list(rung?.groups).slice(0, MOST.groups).map((group) =>
      list(group).slice(0, MOST.branches).map((branch) =>
        list(branch).slice(0, MOST.contacts).map((contact) => ({ operand: operand(contact?.operand), closed: contact?.closed === true })),
      ).filter((branch) => branch.length),
    ).filter((group) => group.length),
    coil: { operand: operand(rung?.coil?.operand), kind: Object.hasOwn(COILS, rung?.coil?.kind) ? rung.coil.kind : "assign" },
  }));
}

function key(...parts) {
  return parts.join("-");
}

function mini(id, label, text, press, name = "lk-mini") {
  const attributes = { class: name, "aria-label": label, title: label, "data-key": id };
  return button(text, press, attributes);
}

const blankContact = () => ({ operand: "", closed: false });
const blankRung = () => ({ groups: [[[blankContact()]]], coil: { operand: "", kind: "assign" } });

function lit(target, on) {
  target?.classList.toggle("lk-live", on === true);
}

// The energised path of a group: thicker and coloured; says whether power leaves it.
function showGroup(group, along, arrives) {
  const ends = along.map((branch) => branch.at(-1));
  group.querySelectorAll(".lk-branch").forEach((row, line) => {
    let before = arrives;
    row.querySelectorAll(".lk-contact").forEach((contact, which) => {
      const after = along[line]?.[which] === true;
      lit(contact.querySelector(".lk-lead-in"), before);
      lit(contact.querySelector(".lk-lead-out"), after);
      before = after;
    });
    lit(row.querySelector(".lk-wire"), ends[line]);
    row.classList.toggle("lk-fed", arrives);
    row.classList.toggle("lk-feeding", ends.slice(line).includes(true));
  });
  return ends.includes(true);
}

function showRung(rung, flow) {
  let arrives = flow !== undefined;
  rung.querySelectorAll(".lk-group-of").forEach((group, at) => {
    arrives = showGroup(group, flow?.groups[at] ?? [], arrives);
  });
  lit(rung.querySelector(".lk-next .lk-wire"), flow?.coil);
  for (const lead of rung.querySelectorAll(".lk-coil .lk-lead")) lit(lead, flow?.coil);
}

export class LadderEditor {
  constructor({ ask, edited }) {
    this.ask = ask;
    this.edited = edited;
    this.operands = [...ask.inputs, ...ask.outputs, ...ask.memory];
    this.node = element("div", { class: "lk-ladder" });
    this.rungs = [blankRung()];
    this.draw();
  }

  get() {
    return { rungs: structuredClone(this.rungs) };
  }

  set(program) {
    this.rungs = cleanProgram(program, this.operands.map((each) => each.id));
    this.draw();
  }

  // `power` is Python's, a rung each.
  showPower(power) {
    this.node.querySelectorAll(".lk-rung").forEach((rung, index) => {
      showRung(rung, power?.[index]);
    });
  }

  // A button that edits, and draws anew.
  tool(id, label, text, edit, name) {
    const press = () => {
      edit();
      this.draw();
      this.edited();
    };
    return mini(id, label, text, press, name);
  }

  chooser(id, label, list, value, choose) {
    const options = [{ id: "", text: "" }, ...list].map((each) =>
      element("option", { value: each.id, title: each.text }, each.id || "choose"),
    );
    const made = element("select", { class: "lk-operand", "aria-label": label, "data-key": id }, ...options);
    made.value = value;
    made.addEventListener("change", () => {
      choose(made.value);
      this.edited();
    });
    return made;
  }

  contact(rung, { at, line, which, number, count }) {
    const branch = rung.groups[at][line];
    const contact = branch[which];
    const id = key(number, at, line, which);
    const where = `rung ${number}, contact ${count}`;
    const flip = this.tool(
      `flip-${id}`,
      `${contact.closed ? "Normally closed" : "Normally open"}: press to change (${where})`,
      contactSymbol(contact.closed),
      () => {
        contact.closed = !contact.closed;
      },
      "lk-symbol",
    );
    const remove = this.tool(`remove-${id}`, `Remove ${where}`, "×", () => {
      branch.splice(which, 1);
      if (!branch.length) rung.groups[at].splice(line, 1);
      if (!rung.groups[at].length) rung.groups.splice(at, 1);
    });
    const pick = this.chooser(`operand-${id}`, `Operand of ${where}`, this.operands, contact.operand, (operand) => {
      contact.operand = operand;
    });
    return element("div", { class: "lk-contact" }, element("div", { class: "lk-over" }, pick, remove), flip);
  }

  branch(rung, { at, line, number, counter }) {
    const branch = rung.groups[at][line];
    const contacts = branch.map((_, which) => {
      counter.count += 1;
      return this.contact(rung, { at, line, which, number, count: counter.count });
    });
    const row = element("div", { class: "lk-branch" }, ...contacts);
    if (rung.groups[at].length > 1 && branch.length < MOST.contacts) {
      const words = `Rung ${number}: another contact in this branch`;
      const more = this.tool(`series-${key(number, at, line)}`, words, "+", () => branch.push(blankContact()));
      row.append(element("span", { class: "lk-more" }, more));
    }
    row.append(element("span", { class: "lk-wire" }));
    return row;
  }

  group(rung, at, number, counter) {
    const group = rung.groups[at];
    const lines = group.map((_, line) => this.branch(rung, { at, line, number, counter }));
    const made = element("div", { class: "lk-group-of" }, ...lines);
    if (group.length < MOST.branches) {
      const words = `Rung ${number}: a branch beside piece ${at + 1}`;
      const beside = this.tool(`beside-${key(number, at)}`, words, "+ branch", () => group.push([blankContact()]));
      made.append(element("div", { class: "lk-beside" }, beside));
    }
    return made;
  }

  coil({ coil }, number) {
    const order = Object.keys(COILS);
    const list = [...this.ask.outputs, ...this.ask.memory, ...this.ask.inputs];
    const pick = this.chooser(`coil-${number}`, `Operand of the coil of rung ${number}`, list, coil.operand, (operand) => {
      coil.operand = operand;
    });
    const kind = this.tool(
      `kind-${number}`,
      `${COIL_WORDS[coil.kind]}: press to change (rung ${number})`,
      coilSymbol(coil.kind),
      () => {
        coil.kind = order[(order.indexOf(coil.kind) + 1) % order.length];
      },
      "lk-symbol",
    );
    return element("div", { class: "lk-contact lk-coil" }, element("div", { class: "lk-over" }, pick), kind);
  }

  rung(rung, index) {
    const number = index + 1;
    const counter = { count: 0 };
    const groups = rung.groups.map((_, at) => this.group(rung, at, number, counter));
    const next = element("div", { class: "lk-next" }, element("span", { class: "lk-wire" }));
    if (rung.groups.length < MOST.groups) {
      const words = `Rung ${number}: a contact in series`;
      next.append(this.tool(`next-${number}`, words, "+ contact", () => rung.groups.push([[blankContact()]])));
    }
    const remove = this.tool(`drop-${number}`, `Remove rung ${number}`, "×", () => this.rungs.splice(index, 1));
    return element(
      "div",
      { class: "lk-rung", role: "group", "aria-label": `Rung ${number}` },
      element("div", { class: "lk-rung-head" }, element("span", {}, String(number)), remove),
      element("div", { class: "lk-line" }, ...groups, next, this.coil(rung, number)),
    );
  }

  draw() {
    const { activeElement } = document;
    const inside = activeElement instanceof HTMLElement && this.node.contains(activeElement);
    const focused = inside ? activeElement.dataset.key : null;
    this.node.replaceChildren(...this.rungs.map((rung, index) => this.rung(rung, index)));
    if (this.rungs.length < this.ask.rungs) {
      const add = this.tool("add", "Add a rung", "+ rung", () => this.rungs.push(blankRung()));
      this.node.append(element("div", { class: "lk-add" }, add));
    }
    const again = focused ? this.node.querySelector(`[data-key="${focused}"]`) : null;
    if (again instanceof HTMLElement) again.focus();
  }
}
