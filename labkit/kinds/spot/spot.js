// A picture to point into: by mouse and finger, by a cross that arrow keys move, and where the author
// lets it, by the names of places. Where places lie, the page does not know.

/** @import { Build } from "./frame.js" */

import { button, element } from "./elements.js";
import { exercise } from "./frame.js";

const WHOLE = 1000;
const STEP = 20; // no place is smaller than a step and a half
const LONG_STEP = 100;
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** @typedef {[number, number]} Point */
/** @typedef {Point | string} Item */

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

/** @param {{ picture: string, words: string }} ask */
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

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  /** @type {{ picture: string, words: string, points: number, names: string[] }} */
  const ask = shown.ask;
  /** @type {Item[]} */
  let items = [];
  /** @type {Point} */
  let at = [WHOLE / 2, WHOLE / 2];
  const { stage, marks, cross } = stageOf(ask);
  const scroll = element("div", { class: "lk-spot-scroll" }, stage);
  const many = ask.points === 1 ? "1 place" : `up to ${ask.points} places`;
  const help = `Point at ${many}: click or touch the picture, or move the cross with the arrow keys (with Shift in long steps) and press Enter.`;
  const list = element("ol", { class: "lk-spot-list", "aria-label": "Your points" });
  const told = element("p", { class: "lk-spot-told", role: "status", "aria-live": "polite" });
  const larger = button("Larger", enlarge, { "aria-pressed": "false" });
  const named = element("div", { class: "lk-spot-names", role: "group", "aria-label": "Places by name" });
  root.append(element("p", { class: "lk-caption" }, help), scroll, element("div", { class: "lk-buttons" }, larger));
  if (ask.names.length) root.append(element("p", { class: "lk-caption" }, "Or choose a place by its name:"), named);
  root.append(list, told);
  const choices = ask.names.map((name) => button(name, () => toggle(name), { "aria-pressed": "false" }));
  named.append(...choices);

  function enlarge() {
    const large = scroll.classList.toggle("lk-spot-large");
    larger.textContent = large ? "Smaller" : "Larger";
    larger.setAttribute("aria-pressed", String(large));
  }

  function show() {
    marks.replaceChildren(
      ...items.flatMap((item, index) => {
        if (typeof item === "string") return [];
        const mark = element("span", { class: "lk-spot-mark" }, String(index + 1));
        put(mark, item);
        return [mark];
      }),
    );
    list.replaceChildren(...items.map(row));
    choices.forEach((each, index) => each.setAttribute("aria-pressed", String(items.includes(ask.names[index]))));
    put(cross, at);
  }

  /** @param {Item} item @param {number} index */
  function row(item, index) {
    const away = button("Take away", () => take(index), { "aria-label": `Take point ${index + 1} away` });
    return element("li", {}, element("span", {}, inWords(item)), away);
  }

  /** @param {string} words */
  function altered(words) {
    show();
    told.textContent = words;
    changed();
    settled();
  }

  /** @param {Item} item */
  function set(item) {
    if (ask.points === 1) items = [];
    if (items.length >= ask.points) {
      told.textContent = `All ${ask.points} points are set: take one away first.`;
      return;
    }
    items = [...items, item];
    altered(`Point ${items.length}: ${inWords(item)}.`);
  }

  /** @param {number} index */
  function take(index) {
    items = items.filter((_, each) => each !== index);
    altered(`Point ${index + 1} is taken away.`);
    stage.focus({ preventScroll: true });
  }

  /** @param {string} name */
  function toggle(name) {
    const index = items.indexOf(name);
    if (index < 0) set(name);
    else altered((items = items.filter((item) => item !== name)) && `${name} is taken away.`);
  }

  stage.addEventListener("click", (event) => {
    const box = stage.getBoundingClientRect();
    at = [within(((event.clientX - box.left) / box.width) * WHOLE), within(((event.clientY - box.top) / box.height) * WHOLE)];
    set(at);
  });
  stage.addEventListener("keydown", (event) => {
    const move = MOVES[event.key];
    if (!move && event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    if (!move) {
      set(at);
      return;
    }
    const step = event.shiftKey ? LONG_STEP : STEP;
    at = [within(at[0] + move[0] * step), within(at[1] + move[1] * step)];
    put(cross, at);
    cross.scrollIntoView({ block: "nearest", inline: "nearest" });
    told.textContent = position(at);
  });
  root.addEventListener("keydown", (event) => event.stopPropagation());
  show();
  return {
    get: () => items,
    set(answer) {
      items = itemsOf(answer, ask.names).slice(0, ask.points);
      show();
    },
  };
}

export default { render: exercise(build) };
