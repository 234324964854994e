// What whoever hosts has in the head of a page: modules of its own, which `desk` names under `beside`.

import { element } from "./elements.js";

/** @typedef {{ node: HTMLElement, holds: (now: any) => void }} Part */

export class InTheHead {
  constructor() {
    this.node = element("div", { class: "pg-of-host" });
    /** @type {Map<string, Promise<Part>>} */
    this.parts = new Map();
  }

  /** @param {any} now - what the host says */
  async holds(now) {
    for (const path of now.beside ?? []) {
      try {
        (await this.part(path)).holds(now);
      } catch {
        this.parts.delete(path); // it did not come: asked for again with the next news
      }
    }
  }

  /** @param {string} path */
  part(path) {
    const made = this.parts.get(path) ?? this.load(path);
    this.parts.set(path, made);
    return made;
  }

  /** @param {string} path */
  async load(path) {
    const { begin } = await import(path);
    const part = begin();
    this.node.append(part.node);
    return part;
  }
}
