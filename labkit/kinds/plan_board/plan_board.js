import { dragging } from "./dragging.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";

const CARD_FIELDS = {
  slot: { head: "Slot", width: 12, inputmode: "numeric" },
  revision: { head: "Revision", width: 30 },
  name: { head: "Name", width: 40 },
  note: { head: "Description: what it serves, where", width: 120 },
};

const TITLES = { ethernet: "Ethernet port", scanner: "Scanner" };

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

function makeCard(module, modules) {
  const twins = modules.filter((each) => each.what === module.what).length > 1;
  const label = twins ? `${module.what} (${module.type})` : module.what;
  const chip = element(
    "button",
    { type: "button", class: "lk-chip", "aria-pressed": "false" },
    element("strong", {}, module.what),
    element("span", {}, module.type),
  );
  const fields = Object.fromEntries(
    Object.entries(CARD_FIELDS).map(([name, { head, width, inputmode }]) => [
      name,
      field(`${head.split(":")[0]} of ${label}`, name, width, inputmode),
    ]),
  );
  return { module, label, chip, fields };
}

const supply = () => element("div", { class: "lk-module lk-supply-unit" }, element("strong", {}, "Supply"));

function nameplate(module) {
  if (!module) return element("div", { class: "lk-module lk-vacant" }, element("span", {}, "blank cover"));
  const lines = [module.type, ...plate(module.revision)].map((line) => element("span", {}, line));
  return element(
    "div",
    { class: "lk-module" },
    element("strong", {}, module.what),
    element("div", { class: "lk-nameplate" }, ...lines),
  );
}

// What is mounted, seen from the front: no numbers on it, the trainee counts.
function chassis(slots, modules) {
  const mounted = Array.from({ length: slots }, (_, slot) => modules.find((module) => module.slot === slot));
  const inOrder = mounted.map((module) =>
    module ? `${module.what}, ${module.type}, ${plate(module.revision).join(", ")}` : "blank cover",
  );
  const label = `The chassis from left to right: supply; ${inOrder.join("; ")}.`;
  return element("div", { class: "lk-chassis", role: "img", "aria-label": label }, supply(), ...mounted.map(nameplate));
}

function cardTable(cards) {
  const heads = ["Card: drag it, or press it and then a slot", ...Object.values(CARD_FIELDS).map(({ head }) => head)];
  const rows = cards.map(({ chip, fields }) =>
    element("tr", {}, ...[chip, ...Object.values(fields)].map((cell) => element("td", {}, cell))),
  );
  return element(
    "table",
    { class: "lk-plan lk-cards" },
    element("thead", {}, element("tr", {}, ...heads.map((word) => element("th", { scope: "col" }, word)))),
    element("tbody", {}, ...rows),
  );
}

// The fields of the Ethernet port and of the scanner, by the name of their group.
function endFields({ ethernet, scanner, rates }) {
  const ends = {};
  if (ethernet) ends.ethernet = { address: field("IP address", "address", 40), prefix: field("Prefix length", "prefix", 20) };
  if (scanner) {
    const rate = element("select", { class: "lk-input lk-of-rate", "aria-label": "Data rate in kbit/s" });
    for (const value of ["", ...rates]) rate.append(element("option", { value }, value === "" ? "–" : String(value)));
    ends.scanner = { node: field("Node address", "node", 16, "numeric"), rate };
  }
  return ends;
}

function group([name, inputs]) {
  const labels = Object.values(inputs).map((input) =>
    element("label", { class: "lk-label" }, input.getAttribute("aria-label"), input),
  );
  return element("fieldset", { class: "lk-board-group" }, element("legend", {}, TITLES[name]), ...labels);
}

const typed = (inputs) => Object.fromEntries(Object.entries(inputs).map(([name, input]) => [name, input.value.trim()]));

function fill(inputs, values) {
  for (const [name, input] of Object.entries(inputs)) {
    const value = values?.[name];
    input.value = ["string", "number"].includes(typeof value) ? value : "";
  }
}

class Board {
  constructor(root, ask, { changed, settled }) {
    const { slots, modules } = ask;
    this.root = root;
    this.changed = changed;
    this.settled = settled;
    this.cards = modules.map((module) => makeCard(module, modules));
    this.ends = endFields(ask);
    this.picked = null;
    this.drags = dragging(root);
    this.bays = Array.from({ length: slots }, (_, slot) => this.bay(slot));
    this.board = element("div", { class: "lk-chassis lk-board", role: "img" }, supply(), ...this.bays);
    for (const card of this.cards) this.listenTo(card);
    for (const inputs of Object.values(this.ends)) this.listen(inputs);
    const scrolled = (node, more = {}) => element("div", { class: "lk-board-scroll", ...more }, node);
    // Nothing in a picture takes the focus, so that its frame must, to be scrolled by keyboard.
    const picture = (title, node) => [
      element("p", { class: "lk-area-title" }, title),
      scrolled(node, { tabindex: "0", role: "group", "aria-label": title }),
    ];
    root.append(
      ...picture("Mounted, seen from the front", chassis(slots, modules)),
      ...picture("Your board", this.board),
      scrolled(cardTable(this.cards)),
      element("div", { class: "lk-board-groups" }, ...Object.entries(this.ends).map(group)),
    );
    root.addEventListener("keydown", (event) => {
      event.stopPropagation();
      if (event.key === "Escape") this.pick(null);
    });
    this.draw();
  }

  bay(slot) {
    const bay = element("div", { class: "lk-bay", "data-slot": slot });
    bay.addEventListener("click", () => {
      if (this.picked && !this.drags.justEnded()) this.put(this.picked, slot);
    });
    return bay;
  }

  listenTo(card) {
    card.chip.addEventListener("pointerdown", (event) => this.drag(event, card));
    card.chip.addEventListener("click", () => {
      if (!this.drags.justEnded()) this.pick(this.picked === card ? null : card);
    });
    this.listen(card.fields);
  }

  listen(inputs) {
    for (const input of Object.values(inputs)) {
      input.addEventListener("input", () => {
        this.draw();
        this.changed();
      });
      input.addEventListener("change", this.settled);
    }
  }

  draw() {
    const told = this.bays.flatMap((bay, slot) => this.drawBay(bay, slot));
    this.board.setAttribute("aria-label", `The board, slots 0 to ${this.bays.length - 1}. ${told.join("; ") || "Empty"}.`);
  }

  drawBay(bay, slot) {
    const here = this.cards.filter((card) => readSlot(card.fields.slot.value) === slot);
    bay.replaceChildren(element("span", { class: "lk-slot-number" }, String(slot)), ...here.map((card) => this.piece(card)));
    bay.classList.toggle("lk-crowded", here.length > 1);
    return here.map((card) => `slot ${slot}: ${card.label}`);
  }

  piece(card) {
    const name = card.fields.name.value.trim().replaceAll("_", "_\u200b") || "no name yet";
    const piece = element(
      "div",
      { class: "lk-card", title: card.label },
      element("strong", {}, card.module.what),
      element("span", {}, name),
    );
    piece.addEventListener("pointerdown", (event) => {
      if (!this.picked) this.drag(event, card);
    });
    return piece;
  }

  pick(card) {
    this.picked = card;
    for (const each of this.cards) each.chip.setAttribute("aria-pressed", String(each === card));
    this.root.classList.toggle("lk-card-placing", card !== null);
  }

  put(card, slot) {
    card.fields.slot.value = String(slot);
    this.pick(null);
    this.draw();
    this.changed();
    this.settled();
  }

  bayAt(x, y) {
    const under = document.elementsFromPoint(x, y);
    return this.bays.find((bay) => under.includes(bay)) ?? null;
  }

  aim(bay) {
    for (const each of this.bays) each.classList.toggle("lk-bay-aim", each === bay);
  }

  drag(event, card) {
    this.drags.start(event, card.label, {
      over: (x, y) => this.aim(this.bayAt(x, y)),
      drop: (x, y) => {
        const bay = this.bayAt(x, y);
        if (bay) this.put(card, this.bays.indexOf(bay));
      },
      end: () => this.aim(null),
    });
  }

  get() {
    return {
      cards: Object.fromEntries(this.cards.map((card) => [card.module.id, typed(card.fields)])),
      ...Object.fromEntries(Object.entries(this.ends).map(([name, inputs]) => [name, typed(inputs)])),
    };
  }

  set(answer) {
    for (const card of this.cards) fill(card.fields, answer?.cards?.[card.module.id]);
    for (const [name, inputs] of Object.entries(this.ends)) fill(inputs, answer?.[name]);
    this.draw();
  }
}

export default { render: exercise((root, hooks) => new Board(root, hooks.shown.ask, hooks)) };
