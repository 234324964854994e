// A drawing as large as the window: zoomed and moved by buttons, keys, wheel and fingers, with a trainee's own notes
// at places of it.

import { gestures } from "./drawing_gestures.js";
import { DrawingView } from "./drawing_view.js";
import { button, element, shape } from "./elements.js";
import { cross, noteDot } from "./note_dots.js";
import { NotesList } from "./notes_list.js";

const ZOOM = 1.25; // a press of a button or key
const FAR = 60; // pixels that an arrow key moves the drawing
const CROSS = 12; // and the cross; a tenth of it with Shift
const BY_HAND = {
  how: "One finger moves the drawing, two fingers zoom.",
  place: "Tap the place for your note.",
};
const BY_KEYS = {
  how: "Drag to move, turn the wheel to zoom. Keys: + and − zoom, arrows move, 0 shows all.",
  place: "Click the place for your note. Or move the cross with the arrow keys and press Enter.",
};
/** @type {Record<string, [right: number, down: number]>} */
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** @typedef {import("./drawing_view.js").Place} Place */
/** @typedef {import("./drawing_notes.js").DrawingNotes} Notes */

export class ZoomedDrawing {
  /** @param {string} name @param {SVGSVGElement} drawing @param {Notes} notes */
  constructor(name, drawing, notes) {
    this.drawing = drawing;
    this.notes = notes;
    this.words = matchMedia("(pointer: coarse)").matches ? BY_HAND : BY_KEYS;
    const { x, y, width, height } = drawing.viewBox.baseVal;
    this.view = new DrawingView({ x, y, width, height });
    this.over = shape("g", {});
    drawing.append(this.over);
    /** @type {(Place & { number: number }) | null} */
    this.placing = null; // the note whose place is chosen, and where the cross is
    /** @type {(Place & { number: number }) | null} */
    this.dragged = null;
    this.list = new NotesList(notes, { move: (number) => this.choosePlace(number), done: (words) => this.done(words) });
    this.stage = element("div", { class: "zd-stage", tabindex: 0, role: "application", "aria-label": name, "aria-describedby": "zd-told" }, drawing);
    this.told = element("p", { class: "zd-told", id: "zd-told", role: "status" }, this.words.how);
    this.add = button("Add a note", () => this.turnPlacing(), { class: "pg-button", "aria-pressed": "false" });
    this.node = element(
      "dialog",
      { class: "zd", "aria-label": name },
      element("header", { class: "zd-head" }, element("h2", {}, name), this.tools()),
      element("div", { class: "zd-body" }, element("div", { class: "zd-main" }, this.stage, this.told), this.list.node),
    );
    this.hears();
  }

  tools() {
    const press = (/** @type {string} */ sign, /** @type {string} */ words, /** @type {() => void} */ act) =>
      button(sign, act, { class: "pg-button", "aria-label": words, title: words });
    return element(
      "div",
      { class: "zd-tools" },
      press("−", "Zoom out", () => this.zoom(1 / ZOOM)),
      press("+", "Zoom in", () => this.zoom(ZOOM)),
      button("Show all", () => this.fit(), { class: "pg-button" }),
      this.add,
      button("Close", () => this.node.close(), { class: "pg-button" }),
    );
  }

  hears() {
    this.notes.on(() => this.show());
    this.node.addEventListener("keydown", (event) => this.key(event));
    this.node.addEventListener("close", () => {
      this.list.settle();
      this.done("");
      this.node.remove();
    });
    gestures(this.stage, {
      tap: (at, on) => this.tap(this.placeAt(at), on),
      move: (right, down) => this.move(-right, -down),
      zoom: (by, at) => this.zoom(by, this.placeAt(at)),
      drags: (on) => this.drags(on),
    });
    new ResizeObserver(() => {
      if (this.node.open) this.takesRoom();
    }).observe(this.stage);
  }

  // The browser gives the focus back to where it was when it is closed.
  open() {
    document.body.append(this.node);
    this.node.showModal();
    this.takesRoom();
    this.view.begin();
    this.show();
    this.stage.focus();
  }

  takesRoom() {
    this.view.takes(this.stage.clientWidth, this.stage.clientHeight);
    this.show();
  }

  show() {
    const { x, y, width, height } = this.view.box;
    this.drawing.setAttribute("viewBox", [x, y, width, height].join(" "));
    const unit = 1 / this.view.scale;
    const { written } = this.list;
    const isNew = written && !this.notes.of(written.number);
    const dots = [...this.notes.all, ...(isNew ? [written] : [])].map((note) => {
      const at = this.dragged?.number === note.number ? this.dragged : note;
      return noteDot(note, at, unit, at.x > x + 0.7 * width ? "left" : "right");
    });
    this.over.replaceChildren(...dots, ...(this.placing ? [cross(this.placing, unit)] : []));
    this.stage.classList.toggle("zd-placing", this.placing !== null);
    this.add.setAttribute("aria-pressed", String(this.placing !== null));
  }

  /** Which place of the drawing is there in the window; never outside the drawing. @param {Place} at @returns {Place} */
  placeAt(at) {
    const { left, top } = this.stage.getBoundingClientRect();
    const { box, scale } = this.view;
    return this.view.inside({ x: box.x + (at.x - left) / scale, y: box.y + (at.y - top) / scale });
  }

  /** @param {number} by @param {Place} [at] */
  zoom(by, at = this.placing ?? undefined) {
    this.view.zoom(by, at);
    this.show();
  }

  fit() {
    this.view.fit();
    this.show();
  }

  /** @param {number} right @param {number} down */
  move(right, down) {
    this.view.move(right, down);
    this.show();
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (event.target === this.list.input || event.ctrlKey || event.metaKey || event.altKey) return;
    if (!this.does(event)) return;
    event.preventDefault();
  }

  /** Whether a key means something here. @param {KeyboardEvent} event */
  does({ key, shiftKey, target }) {
    const arrow = target === this.stage ? ARROWS[key] : undefined;
    if (arrow) this.arrow(arrow, shiftKey);
    else if (key === "+" || key === "=") this.zoom(ZOOM);
    else if (key === "-") this.zoom(1 / ZOOM);
    else if (key === "0") this.fit();
    else if (key === "Enter" && target === this.stage && this.placing) this.pin(this.placing);
    else if (key === "Escape" && this.placing) this.done("");
    else return false;
    return true;
  }

  /** @param {[number, number]} arrow @param {boolean} fine */
  arrow([right, down], fine) {
    if (!this.placing) return this.move(right * FAR, down * FAR);
    const step = (fine ? CROSS / 10 : CROSS) / this.view.scale;
    const { number, x, y } = this.placing;
    this.placing = { number, ...this.view.inside({ x: x + right * step, y: y + down * step }) };
    this.view.shows(this.placing);
    this.show();
  }

  turnPlacing() {
    if (this.placing) return this.done("");
    this.list.settle(); // which may take the next number
    this.choosePlace(this.notes.next);
  }

  /** The cross begins where the note is, or in the middle of what is shown. @param {number} number */
  choosePlace(number) {
    this.list.settle();
    this.placing = { number, ...(this.notes.of(number) ?? this.view.middle) };
    this.view.shows(this.placing);
    this.done(this.words.place, true);
  }

  /** @param {Place & { number: number }} where */
  pin({ number, x, y }) {
    const note = this.notes.of(number);
    this.placing = null;
    if (note) {
      this.notes.keep({ ...note, x, y });
      return this.done(`Note ${number} is moved.`);
    }
    this.list.write({ number, text: "", x, y });
    this.told.textContent = "Write a few words, then press Enter.";
    this.show();
  }

  /** @param {Place} place @param {Element} on */
  tap(place, on) {
    if (this.placing) return this.pin({ ...place, number: this.placing.number });
    const note = this.notes.of(numberOf(on));
    if (note) this.list.write(note);
  }

  /** A note goes along with the finger. @param {Element} on */
  drags(on) {
    const note = this.notes.of(numberOf(on));
    if (!note || this.placing) return null;
    return (/** @type {Place} */ at, /** @type {boolean} */ ended) => {
      this.dragged = ended ? null : { number: note.number, ...this.placeAt(at) };
      if (ended) this.notes.keep({ ...note, ...this.placeAt(at) });
      else this.show();
    };
  }

  /** @param {string} words @param {boolean} [goesOn] - a place is still chosen */
  done(words, goesOn = false) {
    if (!goesOn) this.placing = null;
    this.told.textContent = words || this.words.how;
    this.show();
    if (this.node.open) this.stage.focus();
  }
}

/** @param {Element} on */
const numberOf = (on) => Number(on.closest("[data-note]")?.getAttribute("data-note"));
