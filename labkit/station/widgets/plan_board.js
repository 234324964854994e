/** @import { Build } from "./frame.js" */

import { dragging } from "./dragging.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";

const CARD_FIELDS = {
  slot: { head: "Slot", width: 12, inputmode: "numeric" },
  revision: { head: "Revision", width: 30 },
  name: { head: "Name", width: 40 },
  note: { head: "Description: what it serves, where", width: 120 },
};

function readSlot(text) {
  // Only to draw what is typed; Python reads the answer itself.
  const found = /^\s*(?:slot\s*)?#?\s*(\d{1,2})\s*$/i.exec(text);
  return found ? Number(found[1]) : null;
}

function plate(revision) {
  // A bare number, as labs of older versions have it, says what it is.
  return /^\d/.test(revision) ? ["revision", revision] : revision.split(", ");
}

function field(label, name, maxlength, inputmode = "text") {
  const long = maxlength > 100;
  return element(long ? "textarea" : "input", {
    type: long ? null : "text",
    rows: long ? 2 : null,
    class: `lk-input lk-of-${name}`,
    "aria-label": label,
    maxlength,
    inputmode,
    autocomplete: "off",
    spellcheck: "false",
  });
}

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const { slots, modules, ethernet, scanner, rates } = shown.ask;
  const twins = (module) => modules.filter((each) => each.what === module.what).length > 1;
  const cards = modules.map((module) => {
    const label = twins(module) ? `${module.what} (${module.type})` : module.what;
    const chip = element("button", { type: "button", class: "lk-chip", "aria-pressed": "false" });
    chip.append(element("strong", {}, module.what), element("span", {}, module.type));
    const fields = Object.fromEntries(
      Object.entries(CARD_FIELDS).map(([name, { head, width, inputmode }]) => [
        name,
        field(`${head.split(":")[0]} of ${label}`, name, width, inputmode),
      ]),
    );
    return { module, label, chip, fields };
  });
  const ends = {};
  let picked = null;

  // What is mounted, seen from the front: no numbers on it, the trainee counts.
  function nameplate(module) {
    const panel = element("div", { class: "lk-module" });
    if (!module) {
      panel.classList.add("lk-vacant");
      panel.append(element("span", {}, "blank cover"));
      return panel;
    }
    panel.append(
      element("strong", {}, module.what),
      element("div", { class: "lk-nameplate" }, element("span", {}, module.type), ...plate(module.revision).map((line) => element("span", {}, line))),
    );
    return panel;
  }
  const supply = () => element("div", { class: "lk-module lk-supply-unit" }, element("strong", {}, "Supply"));
  const mounted = Array.from({ length: slots }, (_, slot) => modules.find((module) => module.slot === slot));
  const inOrder = mounted.map((module) => (module ? `${module.what}, ${module.type}, ${plate(module.revision).join(", ")}` : "blank cover"));
  const front = element(
    "div",
    { class: "lk-chassis", role: "img", "aria-label": `The chassis from left to right: supply; ${inOrder.join("; ")}.` },
    supply(),
    ...mounted.map(nameplate),
  );

  const bays = Array.from({ length: slots }, (_, slot) => {
    const bay = element("div", { class: "lk-bay", "data-slot": slot });
    bay.addEventListener("click", () => {
      if (picked && !drags.justEnded()) put(picked, slot);
    });
    return bay;
  });
  const board = element("div", { class: "lk-chassis lk-board", role: "img" }, supply(), ...bays);

  function draw() {
    const told = [];
    bays.forEach((bay, slot) => {
      const here = cards.filter((card) => readSlot(card.fields.slot.value) === slot);
      bay.replaceChildren(element("span", { class: "lk-slot-number" }, String(slot)));
      bay.classList.toggle("lk-crowded", here.length > 1);
      for (const card of here) {
        const name = card.fields.name.value.trim();
        const piece = element("div", { class: "lk-card", title: card.label }, element("strong", {}, card.module.what), element("span", {}, name.replaceAll("_", "_\u200b") || "no name yet"));
        piece.addEventListener("pointerdown", (event) => {
          if (!picked) drag(event, card);
        });
        bay.append(piece);
        told.push(`slot ${slot}: ${card.label}`);
      }
    });
    board.setAttribute("aria-label", `The board, slots 0 to ${slots - 1}. ${told.join("; ") || "Empty"}.`);
  }

  function pick(card) {
    picked = card;
    for (const each of cards) each.chip.setAttribute("aria-pressed", String(each === card));
    root.classList.toggle("lk-card-placing", card !== null);
  }

  function put(card, slot) {
    card.fields.slot.value = String(slot);
    pick(null);
    draw();
    changed();
    settled();
  }

  const drags = dragging(root);
  const bayAt = (x, y) => bays.find((bay) => document.elementsFromPoint(x, y).includes(bay)) ?? null;
  function aim(bay) {
    for (const each of bays) each.classList.toggle("lk-bay-aim", each === bay);
  }
  function drag(event, card) {
    drags.start(event, card.label, {
      over: (x, y) => aim(bayAt(x, y)),
      drop(x, y) {
        const bay = bayAt(x, y);
        if (bay) put(card, bays.indexOf(bay));
      },
      end: () => aim(null),
    });
  }

  function listen(input) {
    input.addEventListener("input", () => {
      draw();
      changed();
    });
    input.addEventListener("change", settled);
    return input;
  }

  const rows = cards.map((card) => {
    card.chip.addEventListener("pointerdown", (event) => drag(event, card));
    card.chip.addEventListener("click", () => {
      if (!drags.justEnded()) pick(picked === card ? null : card);
    });
    const cells = Object.values(card.fields).map((input) => element("td", {}, listen(input)));
    return element("tr", {}, element("td", {}, card.chip), ...cells);
  });
  const heads = ["Card: drag it, or press it and then a slot", ...Object.values(CARD_FIELDS).map(({ head }) => head)];
  const table = element(
    "table",
    { class: "lk-plan lk-cards" },
    element("thead", {}, element("tr", {}, ...heads.map((word) => element("th", { scope: "col" }, word)))),
    element("tbody", {}, ...rows),
  );

  function group(title, name, inputs) {
    ends[name] = inputs;
    const labels = Object.entries(inputs).map(([, input]) => {
      listen(input);
      return element("label", { class: "lk-label" }, input.getAttribute("aria-label"), input);
    });
    return element("fieldset", { class: "lk-board-group" }, element("legend", {}, title), ...labels);
  }
  const groups = element("div", { class: "lk-board-groups" });
  if (ethernet) {
    groups.append(group("Ethernet port", "ethernet", { address: field("IP address", "address", 40), prefix: field("Prefix length", "prefix", 20) }));
  }
  if (scanner) {
    const rate = element("select", { class: "lk-input lk-of-rate", "aria-label": "Data rate in kbit/s" });
    for (const value of ["", ...rates]) rate.append(element("option", { value }, value === "" ? "–" : String(value)));
    groups.append(group("Scanner", "scanner", { node: field("Node address", "node", 16, "numeric"), rate }));
  }

  root.append(
    element("p", { class: "lk-area-title" }, "Mounted, seen from the front"),
    element("div", { class: "lk-board-scroll" }, front),
    element("p", { class: "lk-area-title" }, "Your board"),
    element("div", { class: "lk-board-scroll" }, board),
    element("div", { class: "lk-board-scroll" }, table),
    groups,
  );
  root.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Escape") pick(null);
  });
  draw();

  const typed = (inputs) => Object.fromEntries(Object.entries(inputs).map(([name, input]) => [name, input.value.trim()]));
  function fill(inputs, values) {
    for (const [name, input] of Object.entries(inputs)) {
      const value = values?.[name];
      input.value = ["string", "number"].includes(typeof value) ? value : "";
    }
  }
  return {
    get: () => ({
      cards: Object.fromEntries(cards.map((card) => [card.module.id, typed(card.fields)])),
      ...Object.fromEntries(Object.entries(ends).map(([name, inputs]) => [name, typed(inputs)])),
    }),
    set: (answer) => {
      for (const card of cards) fill(card.fields, answer?.cards?.[card.module.id]);
      for (const [name, inputs] of Object.entries(ends)) fill(inputs, answer?.[name]);
      draw();
    },
  };
}

export default { render: exercise(build) };
