// What whoever hosts has on a page: modules of its own, which `desk` names under `beside`. Each has a place in
// the head; one that has a `place` stands with it above every exercise, and is told which one that is.

import { element } from "./elements.js";

/** @typedef {{ node: HTMLElement, place?: HTMLElement, isAt?: (name: string) => void, holds: (now: any) => void }} Part */

export class InTheHead {
  constructor() {
    this.node = element("div", { class: "pg-of-host" });
    this.place = element("div", { class: "pg-of-host" });
    this.at = "";
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

  /** @param {string} name */
  async isAt(name) {
    this.at = name;
    for (const part of await Promise.allSettled(this.parts.values())) {
      if (part.status === "fulfilled") part.value.isAt?.(this.at);
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
    if (part.place) this.place.append(part.place);
    part.isAt?.(this.at);
    return part;
  }
}
