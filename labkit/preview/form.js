// Exercises are changed, moved, copied and added through forms: what is asked of the preview, and where a form stands.

import { button, element } from "./elements.js";
import { FormPanel, kindsOf } from "./form_panel.js";
import { TakingPanel } from "./form_taking.js";

const SHEET = "preview/form.css";
const NOT_REACHED = "labkit does not answer: look into its window. What you typed is still here.";
const THROWN_AWAY = "What you typed in the form is not written. Close the form all the same?";

class Forms {
  constructor() {
    document.head.append(element("link", { rel: "stylesheet", href: SHEET }));
    this.at = "";
    /** @type {any} */
    this.now = null;
    this.goesTo = "";
    /** @type {FormPanel | null} */
    this.panel = null;
    this.add = this.press("Add an exercise", "A", () => this.asksKind());
    this.undo = button("", () => this.undoes(), { class: "pv-button" });
    this.said = element("p", { class: "pf-said", role: "status" });
    this.node = element("div", { class: "pv-bar pf-bar" }, element("div", { class: "pv-tools", role: "group", "aria-label": "Exercises" }, this.add, this.undo), this.said);
    this.section = element("section", { class: "pf-form", "aria-label": "The form", hidden: true });
    this.section.addEventListener("keydown", (event) => this.leaves(event));
    this.change = this.press("Change", "C", () => this.opens("change"));
    this.here = element(
      "div",
      { class: "pv-bar pf-here", role: "group", "aria-label": "This exercise" },
      this.change,
      button("Move", () => this.opens("move"), { class: "pv-button" }),
      button("Copy", () => this.opens("copy"), { class: "pv-button" }),
    );
    this.place = element("div", {}, this.here);
    addEventListener("keydown", (event) => this.typed(event), { capture: true });
    addEventListener("beforeunload", (event) => {
      if (this.panel?.touched) event.preventDefault();
    });
  }

  /** @param {string} words @param {string} key @param {() => void} act */
  press(words, key, act) {
    const shown = element("span", {}, words, " ", element("kbd", { class: "pv-key" }, `Alt+${key}`));
    return button(shown, act, { class: "pv-button", "aria-keyshortcuts": `Alt+${key}` });
  }

  /** @param {KeyboardEvent} event */
  typed(event) {
    if (!event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const pressed = { KeyA: this.add, KeyC: this.here.hidden ? null : this.change }[event.code];
    if (!pressed) return;
    event.preventDefault();
    pressed.click();
  }

  // Escape closes the form; in a field to search in it takes out what is typed there first.
  /** @param {KeyboardEvent} event */
  leaves(event) {
    if (event.key !== "Escape" || event.isComposing) return;
    const at = event.target;
    if (at instanceof HTMLInputElement && at.type === "search" && at.value) return;
    event.preventDefault();
    this.close();
  }

  /** @param {string} name - the exercise in focus */
  isAt(name) {
    if (name !== this.at) this.goesTo = ""; // the author went elsewhere
    this.at = name;
    this.here.hidden = !this.now?.exercises[name];
  }

  /** @param {any} now - what the host says */
  holds(now) {
    if (!this.section.isConnected) document.querySelector(".pg-desk")?.before(this.section);
    this.now = now;
    this.showsUndo();
    if (this.panel && this.panel.form.of !== now.form.of) this.panel.isOld();
    this.isAt(this.at);
    this.goes();
  }

  showsUndo() {
    const { undo } = this.now.form;
    this.undo.hidden = !undo;
    if (undo) this.undo.textContent = `Undo: ${undo.what}, ${undo.at}`;
  }

  // What this page did itself it knows before all pages are told of it: an undo may follow at once.
  /** @param {any} done */
  knows({ of, undo }) {
    this.now = { ...this.now, form: { ...this.now.form, of, undo } };
    this.showsUndo();
  }

  // To an exercise that is new, once it is there.
  goes() {
    if (!this.goesTo || !this.now.exercises[this.goesTo]) return;
    const name = this.goesTo;
    this.goesTo = "";
    setTimeout(() => {
      location.hash = `#${encodeURIComponent(name)}`;
    });
  }

  /** @param {string} path @param {any} [said] */
  async ask(path, said) {
    const headers = { "content-type": "application/json", "labkit-form": this.now.form.token };
    try {
      const answer = await fetch(path, said ? { method: "POST", headers, body: JSON.stringify(said) } : {});
      const isJson = answer.headers.get("content-type")?.startsWith("application/json");
      return isJson ? await answer.json() : { told: [await answer.text()] };
    } catch {
      return { told: [NOT_REACHED] };
    }
  }

  /** @param {"change" | "move" | "copy"} does */
  async opens(does) {
    if (!this.mayLeave()) return;
    const form = await this.ask(`form?exercise=${encodeURIComponent(this.at)}`);
    if (form.told) this.tells(form.told);
    else this.shows(does, form);
  }

  async asksKind() {
    if (!this.mayLeave()) return;
    const { kinds, told } = await this.ask("form");
    if (told) {
      this.tells(told);
      return;
    }
    const choice = kindsOf(kinds, (kind) => this.adds(`kind=${encodeURIComponent(kind)}`), () => this.takes(), () => this.close());
    this.panel = null;
    this.unfolds(choice.node, choice.heading);
  }

  takes() {
    const taking = new TakingPanel({ ask: (path) => this.ask(path), chosen: (line) => this.adds(`from=${encodeURIComponent(line)}`), close: () => this.close() });
    this.unfolds(taking.node, taking.sought);
  }

  /** @param {string} what - a kind, or whence an exercise is taken */
  async adds(what) {
    const form = await this.ask(`form?${what}`);
    if (form.told) this.tells(form.told);
    else this.shows("add", form);
  }

  /** @param {"change" | "move" | "copy" | "add"} does @param {any} form */
  shows(does, form) {
    const host = { ask: (path, said) => this.ask(path, said), written: (done) => this.isWritten(done), close: () => this.close() };
    this.panel = new FormPanel(does, form, host, this.here.hidden ? "" : this.at);
    this.unfolds(this.panel.node, this.panel.heading);
  }

  /** @param {HTMLElement} node @param {HTMLElement} heading */
  unfolds(node, heading) {
    this.said.textContent = "";
    this.section.replaceChildren(node);
    this.turns(true);
    heading.focus();
  }

  /** @param {boolean} open */
  turns(open) {
    this.section.hidden = !open;
    dispatchEvent(new Event("labkit-form")); // there is less room beside it
  }

  mayLeave() {
    return !this.panel?.touched || confirm(THROWN_AWAY);
  }

  close() {
    if (!this.mayLeave()) return;
    this.panel = null;
    this.turns(false);
    (this.here.hidden ? this.add : this.change).focus();
  }

  /** @param {any} done */
  async isWritten(done) {
    this.knows(done);
    this.goesTo = this.now.exercises[done.exercise] ? "" : done.exercise;
    this.panel = null;
    await this.opensAgain(done);
    this.said.textContent = `Written: ${done.what}.`;
  }

  // What was written is in the form anew, so that one can go on.
  /** @param {any} done */
  async opensAgain({ exercise }) {
    const form = await this.ask(`form?exercise=${encodeURIComponent(exercise)}`);
    if (form.told) this.turns(false);
    else this.shows("change", form);
  }

  async undoes() {
    if (!this.mayLeave()) return;
    const done = await this.ask("form/undo", { of: this.now.form.of });
    if (done.told) {
      this.tells(done.told);
      return;
    }
    this.knows(done);
    this.panel = null;
    this.goesTo = "";
    this.turns(false);
    this.said.textContent = `Undone: ${done.what}.`;
  }

  /** @param {string[]} told */
  tells(told) {
    this.said.textContent = told.join(" ");
  }
}

export function begin() {
  return new Forms();
}
