// The erasure of a person: shown before it acts, and confirmed by typing the id.

import { ask } from "./asking.js";
import { element } from "./elements.js";
import { classPath } from "./house.js";
import { command, field, fold, form, lines } from "./close_parts.js";

/**
 * @param {{ id: string, name: string }[]} people
 * @param {{ act: (part: string, said: object) => Promise<void> }} does
 */
export function erasure(people, does) {
  const shown = element("div", {});
  const known = element("datalist", { id: "cl-people" }, ...people.map((one) => element("option", { value: one.id }, one.name)));
  const who = field("The id of the person", { list: "cl-people" });
  const look = async () => {
    const id = who.input.value.trim();
    shown.replaceChildren();
    const told = await ask(`${classPath()}close/held?id=${encodeURIComponent(id)}`);
    shown.replaceChildren(confirming(id, told, does, shown));
  };
  return element(
    "section",
    { class: "hs-box cl-danger" },
    element("h2", {}, "Erase a person"),
    element("p", {}, "Takes name, id, answers and files of one person out of this class, for ever. First you see what is held of them."),
    fold("Erase somebody", form("Show what is held of them", look, who.label, known), shown, command("labkit records CLASS --erase ID --reason WHY")),
  );
}

function confirming(id, told, does, shown) {
  const typed = field(`To erase, type the id ${id}`);
  const reason = field("Why, without naming the person: it stays in the records");
  const marks = element("input", { type: "checkbox" });
  const send = async () => {
    await does.act("erase", { id, typed: typed.input.value, reason: reason.input.value, remove_marks: marks.checked, seen: told.seen });
    shown.replaceChildren();
  };
  return element(
    "div",
    { class: "cl-form cl-final" },
    lines(told.held),
    form(
      "Erase for ever",
      send,
      reason.label,
      element("label", { class: "rm-choice" }, marks, "Remove the marks too, instead of keeping them without a name"),
      typed.label,
    ),
  );
}
