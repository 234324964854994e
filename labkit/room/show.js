// What the projector shows, chosen on the trainer's page.

import { button, element } from "./elements.js";

// What is chosen and folded open outlasts the page being shown anew.
const chosen = { lab: "", exercise: "", open: false };
/** What was pressed last to go on or back: there the focus stays, whatever is written on it then. */
let pressed = "";

/** A list whose choice is remembered. */
function list(words, part, options, again) {
  const made = element(
    "select",
    { class: "rm-select", "aria-label": words },
    ...options.map(({ id, title }) => element("option", { value: id }, title)),
  );
  made.value = chosen[part];
  if (made.selectedIndex < 0) made.selectedIndex = 0;
  chosen[part] = made.value;
  made.addEventListener("change", () => {
    chosen[part] = made.value;
    again();
  });
  return made;
}

function small(words, press, more = {}) {
  return button(words, press, { class: "rm-button rm-small", ...more });
}

/** What is shown now, in words. */
function inWords({ view, lab, exercise, labs }) {
  const of = labs.find(({ id }) => id === lab);
  if (view === "progress") return `how far the class is in ${of?.title}`;
  if (view === "debrief") return `what is misunderstood in ${of?.title}`;
  if (view === "replay") return `a replay of ${of?.title}, ${of?.exercises.find(({ id }) => id === exercise)?.title}`;
  if (view === "exercise") return `${of?.title}, ${of?.exercises.find(({ id }) => id === exercise)?.title}`;
  return "the class and the address to join at";
}

function onwards(projector, act) {
  const { view, lab, exercise, down, steps, parts, waits } = projector;
  const at = steps.length ? Math.min(projector.step, steps.length - 1) : projector.step;
  const go = (what) => act({ act: "project", view, lab, exercise, step: at, down, ...what });
  const row = element("div", { class: "rm-row" });
  const step = (way, words, to) => {
    const press = () => {
      pressed = way;
      return go({ step: to });
    };
    row.append(small(words, press, { "data-way": way }));
  };
  if (waits) row.append(element("span", { class: "rm-quiet" }, "The bench is played beforehand: this takes a minute or two."));
  if (at > 0) step("back", "Cover again", at - 1);
  if (at + 1 < steps.length) step("next", `Next: ${steps[at + 1]}`, at + 1);
  for (const part of parts) row.append(small(`To: ${part.words}`, () => go({ step: part.step })));
  if (view !== "class") {
    if (down > 0) row.append(small("Up", () => go({ down: down - 1 }), { "aria-label": "Move the projector's picture up" }));
    row.append(small("Down", () => go({ down: down + 1 }), { "aria-label": "Move the projector's picture down" }));
  }
  return row;
}

/** On and back by the keys of the arrows, or those of a presenter, while the focus is in here. */
function byKeys(fold) {
  fold.addEventListener("keydown", (event) => {
    const way = { ArrowRight: "next", PageDown: "next", ArrowLeft: "back", PageUp: "back" }[event.key];
    if (!way || event.target instanceof HTMLSelectElement) return;
    event.preventDefault();
    fold.querySelector(`[data-way="${way}"]`)?.click();
  });
}

/** The focus was on what is made anew. @param {HTMLElement} fold */
function keepFocus(fold) {
  if (!pressed || document.activeElement !== document.body) return;
  const there = fold.querySelector(`[data-way="${pressed}"]`) ?? fold.querySelector("[data-way]");
  if (there instanceof HTMLElement) there.focus({ preventScroll: true });
}

export function projectorOf(room, act) {
  const { projector, addresses } = room;
  const place = element("div", { class: "rm-show" });
  const show = (view, what = {}) => act({ act: "project", view, ...what });

  const choices = () => {
    const lab = list("Lab for the projector", "lab", projector.labs, choices);
    const of = projector.labs.find(({ id }) => id === chosen.lab);
    const exercise = list("Exercise for the projector", "exercise", of.exercises, choices);
    const hasBench = of.exercises.find(({ id }) => id === chosen.exercise)?.bench;
    const tells = of.told
      ? [
          small("What is misunderstood", () => show("debrief", { lab: of.id })),
          exercise,
          small("Show this exercise", () => show("exercise", { lab: of.id, exercise: chosen.exercise })),
          ...(hasBench ? [small("Replay at the bench", () => show("replay", { lab: of.id, exercise: chosen.exercise }))] : []),
        ]
      : [element("span", { class: "rm-quiet" }, "Exercises and mistakes of an assessed lab: once its results are released.")];
    place.replaceChildren(
      element("div", { class: "rm-row" }, small("Class and address", () => show("class")), lab, small("How far we are", () => show("progress", { lab: of.id })), ...tells),
      onwards(projector, act),
    );
  };
  choices();

  const link = `${addresses[0]}/projector#${projector.key}`;
  const fold = element(
    "details",
    { class: "rm-pairs" },
    element("summary", {}, `Projector: shows ${inWords(projector)}`),
    place,
    element(
      "p",
      { class: "rm-quiet" },
      "Open at the projector: ",
      element("a", { class: "rm-link", href: link, target: "_blank", rel: "noopener" }, link),
      ". It shows no name, and nobody's numbers.",
    ),
  );
  fold.open = chosen.open;
  byKeys(fold);
  queueMicrotask(() => keepFocus(fold));
  fold.addEventListener("toggle", () => (chosen.open = fold.open));
  return fold;
}
