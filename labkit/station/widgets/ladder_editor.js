// A ladder diagram that is built by pressing: contacts in series, branches beside them, a coil.
//
// ladderEditor({ ask, edited }) returns { node, get(), set(program), showPower(power) }.
// A program is { rungs: [{ groups: [[[{ operand, closed }]]], coil: { operand, kind } }] }: groups
// stand in series, the branches of a group side by side.

import { element, shape } from "./elements.js";

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

export function ladderEditor({ ask, edited }) {
  const operands = [...ask.inputs, ...ask.outputs, ...ask.memory];
  const ids = operands.map((each) => each.id);
  const node = element("div", { class: "lk-ladder" });
  const blank = () => ({ groups: [[[{ operand: "", closed: false }]]], coil: { operand: "", kind: "assign" } });
  let rungs = [blank()];

  function change(redraw = true) {
    if (redraw) draw();
    edited();
  }

  function button(key, label, text, press, name = "lk-mini") {
    const made = element("button", { type: "button", class: name, "aria-label": label, title: label, "data-key": key }, text);
    made.addEventListener("click", press);
    return made;
  }

  function chooser(key, label, list, value, choose) {
    const made = element("select", { class: "lk-operand", "aria-label": label, "data-key": key });
    for (const each of [{ id: "", text: "" }, ...list]) {
      made.append(element("option", { value: each.id, title: each.text }, each.id || "choose"));
    }
    made.value = value;
    made.addEventListener("change", () => {
      choose(made.value);
      change(false);
    });
    return made;
  }

  function contactNode(rung, place) {
    const { at, line, which, number } = place;
    const branch = rung.groups[at][line];
    const contact = branch[which];
    const key = [number, at, line, which].join("-");
    const where = `rung ${number}, contact ${place.count}`;
    const flip = button(
      `flip-${key}`,
      `${contact.closed ? "Normally closed" : "Normally open"}: press to change (${where})`,
      contactSymbol(contact.closed),
      () => {
        contact.closed = !contact.closed;
        change();
      },
      "lk-symbol",
    );
    const remove = button(`remove-${key}`, `Remove ${where}`, "×", () => {
      branch.splice(which, 1);
      if (!branch.length) rung.groups[at].splice(line, 1);
      if (!rung.groups[at].length) rung.groups.splice(at, 1);
      change();
    });
    const pick = chooser(`operand-${key}`, `Operand of ${where}`, operands, contact.operand, (id) => (contact.operand = id));
    return element("div", { class: "lk-contact" }, element("div", { class: "lk-over" }, pick, remove), flip);
  }

  function groupNode(rung, at, number, counter) {
    const group = rung.groups[at];
    const lines = group.map((branch, line) => {
      const contacts = branch.map((_, which) => {
        counter.count += 1;
        return contactNode(rung, { at, line, which, number, count: counter.count });
      });
      const row = element("div", { class: "lk-branch" }, ...contacts);
      if (group.length > 1 && branch.length < MOST.contacts) {
        const more = button(`series-${number}-${at}-${line}`, `Rung ${number}: another contact in this branch`, "+", () => {
          branch.push({ operand: "", closed: false });
          change();
        });
        row.append(element("span", { class: "lk-more" }, more));
      }
      row.append(element("span", { class: "lk-wire" }));
      return row;
    });
    const made = element("div", { class: "lk-group-of" }, ...lines);
    if (group.length < MOST.branches) {
      const beside = button(`beside-${number}-${at}`, `Rung ${number}: a branch beside piece ${at + 1}`, "+ branch", () => {
        group.push([{ operand: "", closed: false }]);
        change();
      });
      made.append(element("div", { class: "lk-beside" }, beside));
    }
    return made;
  }

  function coilNode(rung, number) {
    const order = Object.keys(COILS);
    const list = [...ask.outputs, ...ask.memory, ...ask.inputs];
    const pick = chooser(`coil-${number}`, `Operand of the coil of rung ${number}`, list, rung.coil.operand, (id) => (rung.coil.operand = id));
    const kind = button(
      `kind-${number}`,
      `${COIL_WORDS[rung.coil.kind]}: press to change (rung ${number})`,
      coilSymbol(rung.coil.kind),
      () => {
        rung.coil.kind = order[(order.indexOf(rung.coil.kind) + 1) % order.length];
        change();
      },
      "lk-symbol",
    );
    return element("div", { class: "lk-contact lk-coil" }, element("div", { class: "lk-over" }, pick), kind);
  }

  function rungNode(rung, index) {
    const number = index + 1;
    const counter = { count: 0 };
    const groups = rung.groups.map((_, at) => groupNode(rung, at, number, counter));
    const more = element("div", { class: "lk-next" }, element("span", { class: "lk-wire" }));
    if (rung.groups.length < MOST.groups) {
      more.append(
        button(`next-${number}`, `Rung ${number}: a contact in series`, "+ contact", () => {
          rung.groups.push([[{ operand: "", closed: false }]]);
          change();
        }),
      );
    }
    const remove = button(`drop-${number}`, `Remove rung ${number}`, "×", () => {
      rungs.splice(index, 1);
      change();
    });
    return element(
      "div",
      { class: "lk-rung", role: "group", "aria-label": `Rung ${number}` },
      element("div", { class: "lk-rung-head" }, element("span", {}, String(number)), remove),
      element("div", { class: "lk-line" }, ...groups, more, coilNode(rung, number)),
    );
  }

  function draw() {
    const { activeElement } = document;
    const focused = activeElement instanceof HTMLElement && node.contains(activeElement) ? activeElement.dataset.key : null;
    const add = button("add", "Add a rung", "+ rung", () => {
      rungs.push(blank());
      change();
    });
    node.replaceChildren(...rungs.map(rungNode));
    if (rungs.length < ask.rungs) node.append(element("div", { class: "lk-add" }, add));
    const again = focused ? node.querySelector(`[data-key="${focused}"]`) : null;
    if (again instanceof HTMLElement) again.focus();
  }

  // The energised path: thicker and coloured. `power` is Python's, a rung each.
  function showPower(power) {
    node.querySelectorAll(".lk-rung").forEach((rungNode_, index) => {
      const flow = power?.[index];
      const lit = (target, on) => target?.classList.toggle("lk-live", on === true);
      let arrives = flow !== undefined;
      rungNode_.querySelectorAll(".lk-group-of").forEach((groupNode_, at) => {
        const along = flow?.groups[at] ?? [];
        const ends = along.map((branch) => branch.at(-1));
        groupNode_.querySelectorAll(".lk-branch").forEach((row, line) => {
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
        arrives = ends.includes(true);
      });
      lit(rungNode_.querySelector(".lk-next .lk-wire"), flow?.coil);
      for (const lead of rungNode_.querySelectorAll(".lk-coil .lk-lead")) lit(lead, flow?.coil);
    });
  }

  draw();
  return {
    node,
    showPower,
    get: () => ({ rungs: structuredClone(rungs) }),
    set(program) {
      rungs = cleanProgram(program, ids);
      draw();
    },
  };
}
