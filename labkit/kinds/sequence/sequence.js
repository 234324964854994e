/** @import { Build } from "./frame.js" */

import { cautionBox } from "./caution.js";
import { dragging } from "./dragging.js";
import { button, element } from "./elements.js";
import { exercise } from "./frame.js";

const WAYS = [
  { by: -1, sign: "▲", words: "Move up", key: "ArrowUp" },
  { by: 1, sign: "▼", words: "Move down", key: "ArrowDown" },
];

class Sequence {
  constructor(root, shown, { changed, settled }) {
    this.changed = changed;
    this.settled = settled;
    this.drags = dragging(root);
    this.list = element("ol", { class: "lk-steps-in-order", "aria-label": "The steps, first to last" });
    this.spoken = element("p", { class: "lk-step-moved", role: "status", "aria-live": "polite" });
    this.dealt = shown.ask.steps.map((step) => this.row(step));
    root.append(
      cautionBox(shown.view.caution),
      element("p", { class: "lk-caption" }, "Drag the steps into their order, or move them with the buttons. The first one stands at the top."),
      this.list,
      this.spoken,
    );
    root.addEventListener("keydown", (event) => event.stopPropagation());
    this.lay(this.dealt);
  }

  row(step) {
    const place = element("span", { class: "lk-step-place", "aria-hidden": "true" });
    const grip = element("span", { class: "lk-step-grip", "aria-hidden": "true" }, "⠿");
    const row = {
      id: step.id,
      text: step.text,
      place,
      node: element("li", { class: "lk-step-row" }),
      buttons: WAYS.map(({ by, sign, words }) =>
        button(sign, () => this.move(row, by), { class: "lk-button lk-step-button", "aria-label": `${words}: ${step.text}` }),
      ),
    };
    row.node.append(
      grip,
      place,
      element("span", { class: "lk-step-text" }, step.text),
      element("span", { class: "lk-step-buttons" }, ...row.buttons),
    );
    row.node.addEventListener("keydown", (event) => this.byKey(row, event));
    row.node.addEventListener("pointerdown", (event) => this.drag(row, event));
    return row;
  }

  byKey(row, event) {
    const way = WAYS.find(({ key }) => key === event.key);
    if (!way) return;
    event.preventDefault();
    this.move(row, way.by);
  }

  drag(row, event) {
    if (event.target instanceof Element && event.target.closest("button")) return;
    // A finger drags by the grip alone: elsewhere it scrolls the page.
    const onGrip = event.target instanceof Element && event.target.closest(".lk-step-grip");
    if (event.pointerType === "touch" && !onGrip) return;
    event.preventDefault();
    row.node.classList.add("lk-step-lifted");
    this.drags.start(event, row.text, {
      over: (_x, y) => this.mark(this.gapAt(y)),
      drop: (_x, y) => this.put(row, this.gapAt(y)),
      end: () => {
        row.node.classList.remove("lk-step-lifted");
        this.mark(null);
      },
    });
  }

  // The gap that is nearest: 0 stands before the first step.
  gapAt(y) {
    const below = this.rows.findIndex(({ node }) => {
      const box = node.getBoundingClientRect();
      return y < box.top + box.height / 2;
    });
    return below < 0 ? this.rows.length : below;
  }

  mark(gap) {
    const last = this.rows.length - 1;
    this.rows.forEach(({ node }, at) => {
      node.classList.toggle("lk-gap-above", at === gap);
      node.classList.toggle("lk-gap-below", at === last && gap === last + 1);
    });
  }

  put(row, gap) {
    const from = this.rows.indexOf(row);
    this.place(row, gap > from ? gap - 1 : gap);
  }

  // The button that was pressed keeps the focus, though its row moves.
  move(row, by) {
    const focused = document.activeElement;
    this.place(row, this.rows.indexOf(row) + by);
    if (focused instanceof HTMLElement && row.node.contains(focused)) focused.focus();
  }

  place(row, to) {
    const from = this.rows.indexOf(row);
    const rows = this.rows.filter((each) => each !== row);
    rows.splice(Math.max(0, to), 0, row);
    const at = rows.indexOf(row);
    if (at === from) {
      if (to !== at) this.spoken.textContent = `“${row.text}” is already the ${at === 0 ? "first" : "last"} step.`;
      return;
    }
    this.lay(rows);
    this.spoken.textContent = `“${row.text}” is now step ${at + 1} of ${rows.length}.`;
    this.changed();
    this.settled();
  }

  lay(rows) {
    this.rows = rows;
    this.list.replaceChildren(...rows.map(({ node }) => node));
    rows.forEach(({ place, buttons: [up, down] }, at) => {
      place.textContent = String(at + 1);
      // Not taken away: a button that is gone would take the focus with it.
      up.setAttribute("aria-disabled", String(at === 0));
      down.setAttribute("aria-disabled", String(at === rows.length - 1));
    });
  }

  get() {
    return this.rows.map(({ id }) => id);
  }

  set(answer) {
    const wanted = Array.isArray(answer) ? answer : [];
    const rows = wanted.map((id) => this.dealt.find((row) => row.id === id)).filter(Boolean);
    const whole = rows.length === this.dealt.length && new Set(rows).size === rows.length;
    this.lay(whole ? rows : this.dealt);
  }
}

/** @type {Build} */
function build(root, { shown, changed, settled }) {
  const sequence = new Sequence(root, shown, { changed, settled });
  return { get: () => sequence.get(), set: (answer) => sequence.set(answer) };
}

export default { render: exercise(build) };
