// Two at one bench: who works in whose workbook, a lab each; the trainer puts them together and parts them.

import { button, element } from "./elements.js";

// What is chosen and folded open outlasts the page being shown anew.
/** @type {Map<string, { open: boolean, guest: string, host: string }>} */
const chosen = new Map();

function whom(words, people, lab, state, part) {
  const list = element(
    "select",
    { class: "rm-select", "aria-label": words },
    element("option", { value: "" }, words),
    ...people
      .filter(({ labs }) => labs[lab.id] && !labs[lab.id].together)
      .map(({ id, name }) => element("option", { value: id }, name)),
  );
  list.value = state[part];
  if (list.selectedIndex < 0) list.value = "";
  list.addEventListener("change", () => (state[part] = list.value));
  return list;
}

export function pairsOf(lab, people, act) {
  const state = chosen.get(lab.id) ?? { open: false, guest: "", host: "" };
  chosen.set(lab.id, state);
  const count = lab.pairs.length ? ` (${lab.pairs.length})` : "";
  const put = () => {
    const { guest, host } = state;
    Object.assign(state, { guest: "", host: "" });
    return act({ act: "put together", lab: lab.id, guest, host });
  };
  const fold = element(
    "details",
    { class: "rm-pairs" },
    element("summary", {}, `Two at one bench${count}`),
    element(
      "ul",
      { class: "rm-pair-list" },
      ...lab.pairs.map(({ guest, names: [host, other] }) =>
        element(
          "li",
          {},
          `${other} works in the workbook of ${host} `,
          button("Part them", () => act({ act: "part", lab: lab.id, guest }), {
            class: "rm-link",
            "aria-label": `Part ${other} and ${host}`,
          }),
        ),
      ),
    ),
    element(
      "div",
      { class: "rm-row" },
      whom("Who …", people, lab, state, "guest"),
      "works in the workbook of",
      whom("whom …", people, lab, state, "host"),
      button("Put together", put, { class: "rm-button rm-small" }),
    ),
    element("p", { class: "rm-quiet" }, "Both then have the marks of that workbook. Their own one rests until you part them."),
  );
  fold.open = state.open;
  fold.addEventListener("toggle", () => (state.open = fold.open));
  return fold;
}
