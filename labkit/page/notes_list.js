// The notes of a drawing as a list, where they are written, changed and removed.

import { LONGEST } from "./drawing_notes.js";
import { button, element } from "./elements.js";

const OWN = "Only you see them. They are kept in this browser, are never marked, and are sent to nobody.";
const NOT_KEPT = " This browser keeps nothing: they are gone when you close this page.";

/** @typedef {import("./drawing_notes.js").Note} Note */
/**
 * @typedef {object} Does
 * @property {(number: number) => void} move
 * @property {(words: string) => void} done - something was changed here, or left as it is; words say it
 */

export class NotesList {
  /** @param {import("./drawing_notes.js").DrawingNotes} notes @param {Does} does */
  constructor(notes, does) {
    this.notes = notes;
    this.does = does;
    /** @type {Note | null} */
    this.written = null; // the note that is being written
    this.own = element("p", { class: "zd-own" });
    this.list = element("ol", { class: "zd-list" });
    this.input = element("input", { class: "zd-input", maxlength: LONGEST, autocomplete: "off" });
    this.label = element("label", {}, element("span"), this.input);
    this.form = element(
      "form",
      { class: "zd-form", hidden: true },
      this.label,
      element("button", { type: "submit", class: "pg-button pg-main" }, "Keep"),
      button("Cancel", () => this.leave(), { class: "pg-button" }),
    );
    this.form.addEventListener("submit", (event) => {
      event.preventDefault(); // nothing is sent anywhere
      this.keep();
    });
    this.form.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      event.preventDefault(); // the drawing stays open
      this.leave();
    });
    this.node = element("section", { class: "zd-notes", "aria-label": "Your notes" }, element("h3", {}, "Your notes"), this.form, this.list, this.own);
    notes.on(() => this.show());
    this.show();
  }

  show() {
    const { all, stay } = this.notes;
    this.own.textContent = OWN + (stay ? "" : NOT_KEPT);
    this.list.hidden = all.length === 0;
    this.list.replaceChildren(...all.map((note) => this.item(note)));
  }

  /** @param {Note} note */
  item(note) {
    const press = (/** @type {string} */ words, /** @type {() => void} */ act) =>
      button(words, act, { class: "pg-button pg-small", "aria-label": `${words} note ${note.number}` });
    return element(
      "li",
      {},
      element("span", { class: "zd-number" }, String(note.number)),
      element("span", { class: "zd-text" }, note.text),
      element(
        "span",
        { class: "zd-acts" },
        press("Change", () => this.write(note)),
        press("Move", () => this.does.move(note.number)),
        press("Remove", () => this.remove(note.number)),
      ),
    );
  }

  /** Let a note be written, whether it is there already or not. @param {Note} note */
  write(note) {
    this.settle();
    this.written = note;
    this.label.firstElementChild?.replaceChildren(`Note ${note.number}`);
    this.input.value = note.text;
    this.form.hidden = false;
    this.input.focus();
  }

  keep() {
    const kept = this.settle();
    this.does.done(kept ? `Note ${kept} is kept.` : "");
  }

  /** Whoever goes on to something else loses nothing that is typed. */
  settle() {
    const { written } = this;
    const text = this.input.value.trim();
    this.close();
    if (!written || !text) return 0;
    this.notes.keep({ ...written, text });
    return written.number;
  }

  leave() {
    this.close();
    this.does.done("");
  }

  close() {
    this.written = null;
    this.form.hidden = true;
  }

  /** @param {number} number */
  remove(number) {
    if (this.written?.number === number) this.close(); // it is gone with what is typed of it
    this.notes.remove(number);
    this.does.done(`Note ${number} is removed.`);
  }
}
