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

// A form for each fault that may be named; of several, one that is left empty says nothing. edited() is
// called after each change.
export function verdictForms(view, edited) {
  const forms = Array.from({ length: view.may_name }, (_, index) => verdictForm(view, edited, index + 1));
  return {
    node: element("div", {}, ...forms.map((form) => form.node)),
    focus: () => forms[0].focus(),
    get() {
      const [first, ...others] = forms.map((form) => form.get());
      const said = [first, ...others].filter(({ fault, place }) => fault || place);
      const [verdict, ...more] = said.length ? said : [first];
      return { verdict, ...(more.length ? { more } : {}) };
    },
    set(answer) {
      const said = [answer?.verdict, ...(answer?.more ?? [])];
      for (const [index, form] of forms.entries()) form.set(said[index] ?? {});
    },
  };
}

function verdictForm(view, edited, number) {
  const fault = chooser(Object.entries(view.faults));
  const place = chooser(view.places.map((each) => [each, each]));
  const boxes = view.terminals.map(([, label]) => element("input", { type: "checkbox", value: label }));
  const several = view.may_name > 1;
  const name = several ? `Fault ${number}${number > 1 ? ", if you found it" : ""}` : "Your verdict";
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
      { class: "lk-verdict-form", role: "group", "aria-label": name },
      several ? element("div", { class: "lk-caption lk-which-fault" }, name) : "",
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
