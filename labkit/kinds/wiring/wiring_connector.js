// A connector to make up: drag a conductor, or choose it and then a terminal, or press its number on it.

import { alongRow } from "./along_row.js";
import { dragging } from "./dragging.js";
import { element } from "./elements.js";

function emptySlot(number) {
  return element(
    "button",
    { type: "button", class: "lk-screw-slot", "data-slot": number },
    element("span", { class: "lk-screw" }, String(number)),
    element("span", { class: "lk-landed", "aria-hidden": "true" }),
    element("span", { class: "lk-screw-slot-name", "aria-hidden": "true" }),
  );
}

function looseStrand(colour) {
  return element(
    "button",
    { type: "button", class: "lk-strand", "data-strand": colour },
    element("span", { class: `lk-strand-line lk-strand-${colour}`, "aria-hidden": "true" }),
    element("span", {}, colour),
    element("span", { class: "lk-strand-where" }),
  );
}

function showSlot(slot, colour, word) {
  const [, landing, name] = slot.children;
  slot.setAttribute("aria-label", `Terminal ${slot.dataset.slot}: ${colour ? word(colour) : "empty"}`);
  landing.className = `lk-landed${colour ? ` lk-strand-${colour}` : ""}`;
  name.textContent = colour ?? "";
  if (colour) slot.dataset.colour = colour;
  else delete slot.dataset.colour;
}

function showStrand(strand, number, held, word) {
  const colour = strand.dataset.strand;
  strand.setAttribute("aria-pressed", String(held === colour));
  strand.setAttribute("aria-label", `Conductor ${word(colour)}, ${number ? `on terminal ${number}` : "loose"}`);
  strand.lastElementChild.textContent = number ? `on ${number}` : "loose";
}

function slotAt(slots, x, y) {
  return slots.find((slot) => {
    const box = slot.getBoundingClientRect();
    return x >= box.left - 4 && x <= box.right + 4 && y >= box.top - 8 && y <= box.bottom + 24;
  });
}

// `said` is the line that tells what was done; touched() is called after each landing.
export class Connector {
  constructor(root, { colours, words, device, said, touched }) {
    this.colours = colours;
    this.word = (colour) => words[colour] ?? colour;
    this.said = said;
    this.touched = touched;
    this.landed = Object.fromEntries(colours.map((colour) => [colour, 0]));
    this.held = null; // the conductor that a press on a terminal lands
    this.drags = dragging(root);
    this.slots = colours.map((_, at) => this.slot(at + 1)); // as many terminals as conductors
    this.strands = colours.map((colour) => this.strand(colour));
    this.node = element(
      "div",
      { class: "lk-making" },
      element(
        "div",
        { class: "lk-connector" },
        element("p", { class: "lk-connector-title" }, `Connector of ${device}, opened`),
        element("div", { class: "lk-slots", role: "group", "aria-label": "Terminals" }, ...this.slots),
      ),
      element(
        "div",
        { class: "lk-strands", role: "group", "aria-label": "Conductors of the cable" },
        element("p", { class: "lk-area-title" }, "Conductors: drag one, or choose it, then a terminal"),
        ...this.strands,
      ),
    );
  }

  slot(number) {
    const slot = emptySlot(number);
    slot.addEventListener("click", () => this.pressed(number));
    slot.addEventListener("pointerdown", (event) => this.on(number) && this.grab(event, this.on(number)));
    slot.addEventListener("keydown", (event) => alongRow(event, this.slots));
    return slot;
  }

  strand(colour) {
    const strand = looseStrand(colour);
    strand.addEventListener("click", () => this.hold(colour));
    strand.addEventListener("pointerdown", (event) => this.grab(event, colour));
    strand.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const number = Number(event.key);
      if (this.slots[number - 1]) this.land(colour, number);
      else if (["0", "Delete", "Backspace"].includes(event.key)) this.land(colour, 0);
      else return alongRow(event, this.strands);
      event.preventDefault();
    });
    return strand;
  }

  on(number) {
    return this.colours.find((colour) => this.landed[colour] === number);
  }

  pressed(number) {
    if (this.drags.justEnded()) return;
    if (this.held) this.land(this.held, number);
    else if (this.on(number)) this.land(this.on(number), 0);
    else this.said.textContent = "Choose a conductor first, then its terminal.";
  }

  hold(colour) {
    if (this.drags.justEnded()) return;
    this.held = this.held === colour ? null : colour;
    this.show();
    if (this.held) this.said.textContent = `${this.word(colour)}: now choose a terminal.`;
  }

  grab(event, colour) {
    this.drags.start(event, colour, {
      over: (x, y) => this.aim(slotAt(this.slots, x, y)),
      drop: (x, y) => this.land(colour, Number(slotAt(this.slots, x, y)?.dataset.slot ?? 0)),
      end: () => this.aim(null),
    });
  }

  aim(under) {
    for (const slot of this.slots) slot.classList.toggle("lk-under-drag", slot === under);
  }

  land(colour, number) {
    const before = number ? this.on(number) : null;
    const other = before && before !== colour;
    if (other) this.landed[before] = 0;
    this.landed[colour] = number;
    this.held = null;
    const off = other ? ` ${this.word(before)} is loose now.` : "";
    this.said.textContent = number ? `${this.word(colour)} on terminal ${number}.${off}` : `${this.word(colour)} is loose.`;
    this.touched();
  }

  show() {
    for (const slot of this.slots) showSlot(slot, this.on(Number(slot.dataset.slot)), this.word);
    for (const strand of this.strands) showStrand(strand, this.landed[strand.dataset.strand], this.held, this.word);
  }

  set(conductors) {
    for (const colour of this.colours) this.landed[colour] = conductors?.[colour] ?? 0;
  }
}
