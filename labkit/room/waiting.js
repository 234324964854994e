// Who waits to be let in: somebody without a card, who typed a name.

import { button, element } from "./elements.js";

export class Waiting {
  /** @param {{ number: string, name: string }} one @param {any[]} people @param {(what: object) => Promise<void>} act */
  constructor({ number, name }, people, act) {
    const whose = element(
      "select",
      { class: "rm-select", "aria-label": `Who is ${name}?` },
      element("option", { value: "" }, "as …"),
      ...people.map((person) => element("option", { value: person.id }, person.name)),
    );
    // Whoever has that very name is most likely meant.
    whose.value = people.find((person) => person.name.toLowerCase() === name.toLowerCase())?.id ?? "";
    const letIn = () => whose.value && act({ act: "let in", number, trainee: whose.value });
    const turnAway = () => act({ act: "let in", number, trainee: "" });
    this.nodes = [
      element(
        "li",
        {},
        element("b", {}, name),
        whose,
        button("Let in", letIn, { class: "rm-button rm-small" }),
        button("Turn away", turnAway, { class: "rm-link" }),
      ),
    ];
  }
}
