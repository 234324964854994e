// What is read for an exercise, beside it: the network, the texts up to here, and the cautions.

import { element } from "./elements.js";
import { networkDrawing } from "./network_drawing.js";

/**
 * @typedef {{ heading: string, html: string }} Folded
 * @typedef {{ exercise: string, part: string, texts: Folded[], cautions: string[] }} Step
 */

/** @param {string} text @param {Record<string, string>} [attributes] */
export function html(text, attributes = {}) {
  const node = element("div", attributes);
  node.innerHTML = text;
  // What scrolls sideways must be reached by keys.
  for (const table of node.querySelectorAll("table")) {
    const frame = element("div", { class: "pg-scrolls", tabindex: 0, role: "group", "aria-label": "Table" });
    table.replaceWith(frame);
    frame.append(table);
  }
  return node;
}

/** @param {string} heading @param {Node} content @param {boolean} [open] */
export function folded(heading, content, open = false) {
  return element("details", { class: "pg-folded", open }, element("summary", {}, heading), content);
}

/** @param {string} text */
export function cautionBox(text) {
  return html(text, { class: "pg-caution", role: "note" });
}

export class Reading {
  /**
   * @param {{ picture: string, sheet: { picture: string, steps: Step[], after: Folded[] } }} opened
   * @param {boolean} wide
   * @param {string} drafts - under which name this browser keeps what is somebody's own
   */
  constructor({ picture, sheet }, wide, drafts) {
    this.wide = wide;
    this.picture = picture ? folded("Your network", networkDrawing(picture, sheet.picture, drafts), wide) : null;
    // Made once, so that what is unfolded stays so from one exercise to the next.
    this.steps = sheet.steps.map(({ texts, cautions }) => ({
      texts: texts.map(({ heading, html: text }) => folded(heading || "About this lab", html(text))),
      cautions: cautions.map(cautionBox),
    }));
    this.after = sheet.after.map(({ heading, html: text }) => folded(heading || "At the end", html(text)));
    this.parts = sheet.steps.map(({ part }) => part !== "");
    /** Those that somebody has folded or unfolded: they stay as they were left. @type {Set<HTMLDetailsElement>} */
    this.byHand = new Set();
    for (const each of this.folded) each.firstChild?.addEventListener("click", () => this.byHand.add(each));
  }

  get folded() {
    return [...(this.picture ? [this.picture] : []), ...this.steps.flatMap(({ texts }) => texts), ...this.after];
  }

  /** Which headings somebody has unfolded or folded. */
  opened() {
    return new Map([...this.byHand].map((each) => [each.firstChild?.textContent, each.open]));
  }

  /** @param {ReturnType<Reading["opened"]>} before - of the text as it was */
  opens(before) {
    for (const each of this.folded) {
      const open = before.get(each.firstChild?.textContent);
      if (open === undefined) continue;
      each.open = open;
      this.byHand.add(each);
    }
  }

  // With room beside the question, what its part of the lab needs lies open; how the lab begins is folded.
  /** @param {number} at */
  unfoldsPart(at) {
    if (!this.wide) return;
    const from = Math.max(this.parts.lastIndexOf(true, at), 1);
    for (const [step, { texts }] of this.steps.entries()) {
      for (const each of texts) if (step > 0 && !this.byHand.has(each)) each.open = from <= step && step <= at;
    }
  }

  /** For the exercise at `at`: its own cautions first, the older ones last. @param {number} at */
  of(at) {
    this.unfoldsPart(at);
    const [own, ...before] = this.steps.slice(0, at + 1).reverse();
    const older = before.flatMap((each) => each.cautions);
    const texts = [own, ...before].flatMap((each) => each.texts);
    return [...own.cautions, ...(this.picture ? [this.picture] : []), ...texts, ...older];
  }

  // At the end: what sits behind the last exercise, and all cautions.
  atTheEnd() {
    return [...this.after, ...this.steps.flatMap((each) => each.cautions)];
  }

  /** @param {number} at */
  hasCaution(at) {
    return this.steps[at].cautions.length > 0;
  }
}
