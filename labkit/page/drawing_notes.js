// What a trainee notes at places of the drawing: short texts with a number, kept in this browser as drafts are.
// They belong to one person at one workbook, are never marked, and are sent to nobody.

import { keptHere } from "./draft_store.js";

export const LONGEST = 120; // letters

/** @typedef {import("./drawing_view.js").Place} Place */
/** @typedef {Place & { number: number, text: string }} Note */

/** What lies there may be of another version. @param {any} note @returns {note is Note} */
const isNote = (note) =>
  [note?.x, note?.y].every(Number.isFinite) && Number.isInteger(note.number) && typeof note.text === "string";

export class DrawingNotes {
  /** @param {string} drafts - under which name a person's drafts of a workbook are kept */
  constructor(drafts) {
    this.key = `labkit:${drafts}:_notes`; // no exercise is called so
    /** @type {ReturnType<typeof keptHere<Note[]>>} */
    this.kept = keptHere(this.key);
    /** @type {(() => void)[]} */
    this.heard = [];
    this.all = this.read();
    globalThis.addEventListener?.("storage", ({ key }) => {
      if (key === this.key) this.changed(this.read()); // another window's notes
    });
  }

  read() {
    const found = this.kept.read();
    return Array.isArray(found) ? found.filter(isNote) : [];
  }

  /** @param {() => void} hears - whenever they are others */
  on(hears) {
    this.heard.push(hears);
  }

  /** The number of the next one: one that was removed is not used again while later ones stand. */
  get next() {
    return Math.max(0, ...this.all.map(({ number }) => number)) + 1;
  }

  /** @param {number} number */
  of(number) {
    return this.all.find((note) => note.number === number);
  }

  /** Keep a note, in place of the one with its number. @param {Note} note */
  keep(note) {
    const others = this.all.filter(({ number }) => number !== note.number);
    this.write([...others, note].sort((one, other) => one.number - other.number));
  }

  /** @param {number} number */
  remove(number) {
    this.write(this.all.filter((note) => note.number !== number));
  }

  /** @param {Note[]} notes */
  write(notes) {
    if (notes.length) this.kept.write(notes);
    else this.kept.clear();
    this.changed(notes);
  }

  /** Whether this browser keeps them: a private window may not. */
  get stay() {
    return this.read().length === this.all.length;
  }

  /** @param {Note[]} notes */
  changed(notes) {
    this.all = notes;
    for (const hears of this.heard) hears();
  }
}
