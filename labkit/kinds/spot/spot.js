// A picture to point into: by mouse and finger, by a cross that arrow keys move, and where the author
// lets it, by the names of places. Where places lie, the page does not know. The drawing of a network
// has parts that anybody sees: network_pointing.js.

/** @import { Build } from "./frame.js" */

import { button, element } from "./elements.js";
import { exercise } from "./frame.js";
import { NetworkPointing } from "./network_pointing.js";

const WHOLE = 1000;
const STEP = 20; // no place is smaller than a step and a half
const LONG_STEP = 100;
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** @typedef {[number, number]} Point */
/** @typedef {Point | string} Item */
/** @typedef {{ picture: string, words: string, points: number, names: string[] }} Ask */

/** @param {number} value */
const within = (value) => Math.min(Math.max(Math.round(value), 0), WHOLE);

/** @param {Point} point */
const position = ([x, y]) => `${x / 10} % from the left, ${y / 10} % from the top`;

/** @param {Item} item */
const inWords = (item) => (typeof item === "string" ? item : position(item));

/** @param {HTMLElement} mark @param {Point} point */
function put(mark, [x, y]) {
  mark.style.left = `${x / 10}%`;
  mark.style.top = `${y / 10}%`;
}

// What of an answer can stand here: a draft may be anything.
/** @param {any} answer @param {string[]} names @returns {Item[]} */
function itemsOf(answer, names) {
  if (!Array.isArray(answer)) return [];
  return answer.filter((item) =>
    typeof item === "string" ? names.includes(item) : Array.isArray(item) && item.length === 2 && item.every(Number.isInteger),
  );
}

/** A numbered mark where a point is; a name has none. @param {Item} item @param {number} index */
function markOf(item, index) {
  if (typeof item === "string") return [];
  const mark = element("span", { class: "lk-spot-mark" }, String(index + 1));
  put(mark, item);
  return [mark];
}

/** @param {Ask} ask */
function stageOf(ask) {
  const image = element("img", { src: ask.picture, alt: ask.words, draggable: "false" });
  const cross = element("span", { class: "lk-spot-cross", "aria-hidden": "true" });
  const marks = element("span", { "aria-hidden": "true" });
  const stage = element(
    "div",
    {
      class: "lk-spot-stage",
      tabindex: 0,
      role: "application",
      "aria-label": `Picture to point into: ${ask.words}. Arrow keys move a cross, Enter sets a point.`,
    },
    image,
    marks,
    cross,
  );
  return { stage, marks, cross };
}

class Pointing {
  /** @param {Ask} ask @param {() => void} altered - tells that the answer is another */
  constructor(ask, altered) {
    this.ask = ask;
    this.altered = altered;
    /** @type {Item[]} */
    this.items = [];
    /** @type {Point} */
    this.at = [WHOLE / 2, WHOLE / 2];
    const { stage, marks, cross } = stageOf(ask);
    this.stage = stage;
    this.marks = marks;
    this.cross = cross;
    this.list = element("ol", { class: "lk-spot-list", "aria-label": "Your points" });
    this.told = element("p", { class: "lk-spot-told", role: "status", "aria-live": "polite" });
    this.choices = ask.names.map((name) => button(name, () => this.toggle(name), { "aria-pressed": "false" }));
    this.stage.addEventListener("click", (event) => this.clicked(event));
    this.stage.addEventListener("keydown", (event) => this.pressed(event));
    this.show();
  }

  show() {
    this.marks.replaceChildren(...this.items.flatMap(markOf));
    this.list.replaceChildren(...this.items.map((item, index) => this.row(item, index)));
    for (const [index, each] of this.choices.entries()) {
      each.setAttribute("aria-pressed", String(this.items.includes(this.ask.names[index])));
    }
    put(this.cross, this.at);
  }

  /** @param {Item} item @param {number} index */
  row(item, index) {
    const away = button("Take away", () => this.take(index), { "aria-label": `Take point ${index + 1} away` });
    return element("li", {}, element("span", {}, inWords(item)), away);
  }

  /** @param {Item[]} items @param {string} words */
  become(items, words) {
    this.items = items;
    this.show();
    this.told.textContent = words;
    this.altered();
  }

  /** @param {Item} item */
  add(item) {
    const { points } = this.ask;
    const before = points === 1 ? [] : this.items;
    if (before.length < points) this.become([...before, item], `Point ${before.length + 1}: ${inWords(item)}.`);
    else this.told.textContent = `All ${points} points are set: take one away first.`;
  }

  /** @param {number} index */
  take(index) {
    const left = this.items.filter((_, each) => each !== index);
    this.become(left, `Point ${index + 1} is taken away.`);
    this.stage.focus({ preventScroll: true });
  }

  /** @param {string} name */
  toggle(name) {
    if (!this.items.includes(name)) return this.add(name);
    const left = this.items.filter((item) => item !== name);
    return this.become(left, `${name}: taken away.`);
  }

  /** @param {MouseEvent} event */
  clicked(event) {
    const box = this.stage.getBoundingClientRect();
    const [x, y] = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
    this.at = [within(x * WHOLE), within(y * WHOLE)];
    this.add(this.at);
  }

  /** @param {KeyboardEvent} event */
  pressed(event) {
    const move = MOVES[event.key];
    if (!move && event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    if (move) this.move(move, event.shiftKey ? LONG_STEP : STEP);
    else this.add(this.at);
  }

  /** @param {number[]} direction @param {number} step */
  move([right, down], step) {
    this.at = [within(this.at[0] + right * step), within(this.at[1] + down * step)];
    put(this.cross, this.at);
    this.cross.scrollIntoView({ block: "nearest", inline: "nearest" });
    this.told.textContent = position(this.at);
  }
}

/** The picture, and a button that shows it large. @param {HTMLElement} stage */
function zoomable(stage) {
  const scroll = element("div", { class: "lk-spot-scroll" }, stage);
  const larger = button("Larger", () => {
    const large = scroll.classList.toggle("lk-spot-large");
    larger.textContent = large ? "Smaller" : "Larger";
  });
  return [scroll, element("div", { class: "lk-buttons" }, larger)];
}

/** @param {HTMLElement[]} choices */
function namesOf(choices) {
  if (!choices.length) return [];
  const group = { class: "lk-spot-names", role: "group", "aria-label": "Places by name" };
  return [element("p", { class: "lk-caption" }, "Or choose a place by its name:"), element("div", group, ...choices)];
}

/** @param {HTMLElement} root @param {Pointing} pointing */
function intoPicture(root, pointing) {
  const { points, names } = pointing.ask;
  const many = points === 1 ? "1 place" : `up to ${points} places`;
  const help = `Point at ${many}: click or touch the picture, or move the cross with the arrow keys (with Shift in long steps) and press Enter.`;
  root.append(element("p", { class: "lk-caption" }, help), ...zoomable(pointing.stage), ...namesOf(pointing.choices));
  root.append(pointing.list, pointing.told);
  return {
    get: () => pointing.items,
    /** @param {any} answer */
    set(answer) {
      pointing.items = itemsOf(answer, names).slice(0, points);
      pointing.show();
    },
  };
}

/** @param {HTMLElement} root @param {NetworkPointing} pointing */
function intoNetwork(root, pointing) {
  root.append(...pointing.parts());
  return { get: () => pointing.items, set: (/** @type {any} */ answer) => pointing.set(answer) };
}

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const altered = () => {
    changed();
    settled();
  };
  root.addEventListener("keydown", (event) => event.stopPropagation());
  if (shown.ask.parts) return intoNetwork(root, new NetworkPointing(shown.ask, altered));
  return intoPicture(root, new Pointing(shown.ask, altered));
}

export default { render: exercise(build) };
