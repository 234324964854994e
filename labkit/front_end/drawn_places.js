// A drawing in two widths with a button over each of its parts: the wide one, and on a phone the narrow one.

import { button, element } from "./elements.js";

/** @typedef {{ svg: string, width: number, height: number, boxes: Record<string, number[][]> }} Drawn */
/** @typedef {{ id: string, said: string }} Said */

/** A place over the drawing, in per cent of it. @param {HTMLElement} node @param {number[]} box @param {Drawn} drawn */
function lay(node, [left, top, width, height], drawn) {
  node.style.left = `${(100 * left) / drawn.width}%`;
  node.style.top = `${(100 * top) / drawn.height}%`;
  node.style.width = `${(100 * width) / drawn.width}%`;
  node.style.height = `${(100 * height) / drawn.height}%`;
}

export class DrawnPlaces {
  /** @param {Drawn[]} drawings @param {Said[]} parts - in the order of the keyboard, and what is said of each @param {(id: string) => void} press */
  constructor(drawings, parts, press) {
    this.parts = parts;
    this.press = press;
    /** @type {{ part: string, node: HTMLElement }[]} */
    this.places = [];
    this.stages = drawings.map((drawn, at) => this.stage(drawn, at === 0 ? "lk-drawn-wide" : "lk-drawn-narrow"));
  }

  /** @param {Drawn} drawn @param {string} name */
  stage(drawn, name) {
    const picture = element("div", { class: "lk-drawn-picture" });
    picture.innerHTML = drawn.svg; // Python's own drawing
    const stage = element("div", { class: "lk-drawn-stage" }, picture);
    for (const part of this.parts) {
      stage.append(...(drawn.boxes[part.id] ?? []).map((box, at) => this.place(part, box, drawn, at)));
    }
    return element("div", { class: `lk-drawn-scroll ${name}` }, stage);
  }

  /** A button over a part; a trunk that goes on in a second row has two. */
  /** @param {Said} part @param {number[]} box @param {Drawn} drawn @param {number} at */
  place(part, box, drawn, at) {
    const node = button("", () => this.press(part.id), { class: "lk-drawn-place", "data-part": part.id, "aria-label": part.said });
    if (at) {
      node.tabIndex = -1;
      node.setAttribute("aria-hidden", "true");
    }
    lay(node, box, drawn);
    this.places.push({ part: part.id, node });
    return node;
  }

  /** @param {Set<string>} marked */
  mark(marked) {
    for (const { part, node } of this.places) node.classList.toggle("lk-drawn-marked", marked.has(part));
  }

  /** @param {string} id */
  focus(id) {
    const shown = this.places.find(({ part, node }) => part === id && node.offsetParent);
    shown?.node.focus({ preventScroll: true });
  }
}
