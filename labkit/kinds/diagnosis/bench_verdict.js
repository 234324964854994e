// The verdict: the fault, its place, and the conductors concerned.

import { element } from "./elements.js";

function chooser(options) {
  return element(
    "select",
    { class: "lk-input lk-select" },
    element("option", { value: "" }, "choose"),
    ...options.map(([value, words]) => element("option", { value }, words)),
  );
}

// edited() is called after each change.
export function verdictForm(view, edited) {
  const fault = chooser(Object.entries(view.faults));
  const place = chooser(view.places.map((each) => [each, each]));
  const boxes = view.terminals.map(([, label]) => element("input", { type: "checkbox", value: label }));
  const wires = element(
    "fieldset",
    { class: "lk-wires" },
    element("legend", {}, "Conductors concerned"),
    ...boxes.map((box, index) => element("label", {}, box, view.terminals[index][3])),
  );

  function showWires() {
    wires.hidden = !view.with_wires.includes(fault.value);
  }

  for (const input of [fault, place, ...boxes])
    input.addEventListener("change", () => {
      showWires();
      edited();
    });
  showWires();
  return {
    node: element(
      "div",
      { class: "lk-verdict-form", role: "group", "aria-label": "Your verdict" },
      element("label", { class: "lk-label" }, "The fault", fault),
      element("label", { class: "lk-label" }, "Its place", place),
      wires,
    ),
    focus: () => fault.focus(),
    get: () => ({
      fault: fault.value,
      place: place.value,
      wires: wires.hidden ? [] : boxes.filter((box) => box.checked).map((box) => box.value),
    }),
    set(said) {
      fault.value = said.fault ?? "";
      place.value = said.place ?? "";
      for (const box of boxes) box.checked = (said.wires ?? []).includes(box.value);
      showWires();
    },
  };
}
