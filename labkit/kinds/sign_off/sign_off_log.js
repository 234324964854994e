/** @import { Agreements } from "./agreement.js" */
/** @import { Model } from "./messages.js" */

// A log of the real network: chosen or dropped, sent to Python piece by piece, and what Python says of it.

import { agreementTable } from "./agreement.js";
import { button, element, newToken } from "./elements.js";

const PATIENCE_MS = 20000;
const LEAVES = "What was heard is kept with your answer; the file stays with you. Your instructor decides.";

/** The bytes as text, which a message carries. @param {ArrayBuffer} bytes */
function inBase64(bytes) {
  const all = new Uint8Array(bytes);
  let text = "";
  for (let at = 0; at < all.length; at += 4096) text += String.fromCharCode(...all.subarray(at, at + 4096));
  return btoa(text);
}

export class LogBox {
  /**
   * @param {{ form: string, piece: number, most: number }} view
   * @param {Model} model
   * @param {() => void} changed
   */
  constructor(view, model, changed) {
    this.view = view;
    this.model = model;
    this.changed = changed;
    /** What goes into the answer. @type {any} */
    this.log = null;
    this.reading = "";
    /** @type {Map<string, (file: any) => void>} */
    this.waiting = new Map();
    this.status = element("p", { class: "lk-rig-log-status", role: "status" });
    this.told = element("div");
    this.input = element("input", { type: "file", class: "lk-rig-log-input", hidden: true, "aria-label": "A log of the real network" });
    this.choose = button("Choose a log …", () => this.input.click());
    this.out = button("Take the log out", () => this.takeOut(), { hidden: true });
    this.node = element(
      "fieldset",
      { class: "lk-rig-log" },
      element("legend", {}, "Log of the real network"),
      element("p", { class: "lk-rig-log-form" }, view.form),
      element("div", { class: "lk-rig-log-row" }, this.choose, this.input, element("span", { class: "lk-rig-log-or" }, "or drop it here"), this.out),
      this.status,
      this.told,
      element("p", { class: "lk-rig-log-form" }, LEAVES),
    );
    this.input.addEventListener("change", () => {
      const file = this.input.files?.[0];
      this.input.value = "";
      if (file) this.read(file);
    });
    this.drops();
    this.heard = this.heard.bind(this);
    model.on("msg:custom", this.heard);
  }

  off() {
    this.reading = "";
    this.model.off("msg:custom", this.heard);
  }

  drops() {
    const over = (on) => this.node.classList.toggle("lk-rig-log-over", on);
    this.node.addEventListener("dragover", (event) => {
      event.preventDefault();
      over(true);
    });
    this.node.addEventListener("dragleave", () => over(false));
    this.node.addEventListener("drop", (event) => {
      event.preventDefault();
      over(false);
      const file = event.dataTransfer?.files[0];
      if (file) this.read(file);
    });
  }

  heard(message) {
    if (!message?.file) return;
    this.waiting.get(message.token)?.(message.file);
    this.waiting.delete(message.token);
  }

  /** What Python says to a message. @param {object} message @returns {Promise<any>} */
  ask(message) {
    const token = newToken();
    return new Promise((resolve, reject) => {
      const late = setTimeout(() => reject(new Error("No answer. Drop the log again in a moment.")), PATIENCE_MS);
      this.waiting.set(token, (file) => {
        clearTimeout(late);
        if (file.problem) reject(new Error(file.problem));
        else resolve(file);
      });
      this.model.send({ do: "file", token, ...message });
    });
  }

  /** @param {File} file */
  async read(file) {
    const reading = newToken();
    this.reading = reading;
    this.say(`Reading ${file.name} …`);
    try {
      const found = await this.pieces(file, reading);
      if (this.reading !== reading) return;
      this.log = found.log;
      this.show(found.told);
      this.say(`${file.name} is read.`);
      this.changed();
    } catch (error) {
      if (this.reading === reading) this.say(`${file.name} is not read. ${error.message}`, "wrong");
    }
  }

  /** Sends the whole file; what comes of its last piece. @param {File} file @param {string} reading */
  async pieces(file, reading) {
    const { piece, most } = this.view;
    if (file.size > most) throw new Error(`It has ${Math.round(file.size / 1e6)} MB; at most ${most / 1e6} MB are read. A minute from power-up on is enough.`);
    const count = Math.max(1, Math.ceil(file.size / piece));
    for (let at = 0; ; at += 1) {
      const bytes = await file.slice(at * piece, (at + 1) * piece).arrayBuffer();
      if (this.reading !== reading) return {};
      const last = at === count - 1;
      const found = await this.ask({ file: reading, piece: at, last, name: file.name, bytes: inBase64(bytes) });
      if (last) return found;
      this.say(`Reading ${file.name}: ${Math.round((100 * (at + 1)) / count)} %`);
    }
  }

  takeOut() {
    this.reading = "";
    this.log = null;
    this.show(null);
    this.say("The log is taken out.");
    this.choose.focus();
    this.changed();
  }

  /** The log of an answer that is kept. @param {any} log */
  async set(log) {
    const same = JSON.stringify(log ?? null) === JSON.stringify(this.log);
    this.log = log ?? null;
    if (same) return;
    this.reading = "";
    if (!log) {
      this.show(null);
      this.say("");
      return;
    }
    try {
      const { told } = await this.ask({ log });
      if (this.log === log) this.show(told);
    } catch (error) {
      this.say(error.message, "wrong");
    }
  }

  /** @param {Agreements | null} told */
  show(told) {
    this.out.hidden = this.log === null;
    this.choose.textContent = this.log === null ? "Choose a log …" : "Choose another log …";
    this.told.replaceChildren(...(told ? [agreementTable(told)] : []));
  }

  say(words, how = "") {
    this.status.textContent = words;
    this.status.dataset.how = how;
  }
}
