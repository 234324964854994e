// A line of a rubric, and the points that it gets: by button, or typed where there are many.

import { button, element } from "./elements.js";
import { plain, prose } from "./keeping.js";

const MOST_BUTTONS = 10;

/** The points that an item may get, as buttons; none where it is worth too much for that. */
function steps(worth) {
  if (worth > MOST_BUTTONS) return [];
  const step = worth <= 3 ? 0.5 : 1;
  const found = [];
  for (let points = 0; points < worth - 0.001; points += step) found.push(points);
  return [...found, worth];
}

export class RubricItem {
  /** One line of the rubric. @param {any} item @param {() => void} changed @param {(item: RubricItem) => void} entered */
  constructor(item, number, changed, entered) {
    this.id = item.id;
    this.worth = item.worth;
    this.points = /** @type {number | null} */ (null);
    this.changed = changed;
    const text = prose("div", { class: "mk-text", id: `mk-item-${number}` }, item.text);
    this.buttons = steps(item.worth).map((points) => ({
      points,
      made: button(plain(points), () => this.give(points), {
        class: "mk-point",
        "aria-pressed": "false",
        "aria-label": `${plain(points)} of ${plain(item.worth)}`,
      }),
    }));
    this.input = this.buttons.length
      ? null
      : element("input", { class: "rm-input mk-number", inputmode: "decimal", "aria-label": `Points, 0 to ${plain(item.worth)}` });
    this.input?.addEventListener("input", () => this.typed());
    const points = element("div", { class: "mk-points" }, ...(this.input ? [this.input] : this.buttons.map(({ made }) => made)));
    this.root = element(
      "div",
      { class: "mk-item", role: "group", tabindex: -1, "aria-labelledby": `mk-item-${number}` },
      text,
      element("div", { class: "mk-give" }, points, element("span", { class: "rm-quiet" }, `of ${plain(item.worth)}`)),
    );
    this.root.addEventListener("focusin", () => entered(this));
    this.root.addEventListener("click", () => entered(this));
  }

  /** @param {number} points */
  give(points) {
    if (points < 0 || points > this.worth + 0.001) return false;
    this.points = Math.min(points, this.worth);
    if (this.input && document.activeElement !== this.input) this.input.value = plain(this.points);
    for (const { made, points: each } of this.buttons) made.setAttribute("aria-pressed", String(Math.abs(each - this.points) < 0.01));
    this.changed();
    return true;
  }

  typed() {
    const points = Number(this.input?.value.replace(",", ".") || Number.NaN);
    if (!(points >= 0 && points <= this.worth)) this.points = null;
    else this.give(points);
    this.changed();
  }
}
