// What the projector shows, chosen on the trainer's page.

import { button, element } from "./elements.js";

// What is chosen and folded open outlasts the page being shown anew.
const chosen = { lab: "", exercise: "", open: false };

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
  if (view === "exercise") return `${of?.title}, ${of?.exercises.find(({ id }) => id === exercise)?.title}`;
  return "the class and the address to join at";
}

function onwards(projector, act) {
  const { view, lab, exercise, down, steps } = projector;
  const at = steps.length ? Math.min(projector.step, steps.length - 1) : projector.step;
  const go = (what) => act({ act: "project", view, lab, exercise, step: at, down, ...what });
  const row = element("div", { class: "rm-row" });
  if (view === "exercise") {
    if (at > 0) row.append(small("Cover again", () => go({ step: at - 1 })));
    if (at + 1 < steps.length) row.append(small(`Next: ${steps[at + 1]}`, () => go({ step: at + 1 })));
  }
  if (view !== "class") {
    if (down > 0) row.append(small("Up", () => go({ down: down - 1 }), { "aria-label": "Move the projector's picture up" }));
    row.append(small("Down", () => go({ down: down + 1 }), { "aria-label": "Move the projector's picture down" }));
  }
  return row;
}

export function projectorOf(room, act) {
  const { projector, addresses } = room;
  const place = element("div", { class: "rm-show" });
  const show = (view, what = {}) => act({ act: "project", view, ...what });

  const choices = () => {
    const lab = list("Lab for the projector", "lab", projector.labs, choices);
    const of = projector.labs.find(({ id }) => id === chosen.lab);
    const exercise = list("Exercise for the projector", "exercise", of.exercises, () => null);
    const tells = of.told
      ? [
          small("What is misunderstood", () => show("debrief", { lab: of.id })),
          exercise,
          small("Show this exercise", () => show("exercise", { lab: of.id, exercise: chosen.exercise })),
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
  fold.addEventListener("toggle", () => (chosen.open = fold.open));
  return fold;
}
