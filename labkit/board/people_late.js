// Somebody who comes late: a line more in the roster.

import { ask } from "./asking.js";
import { element } from "./elements.js";
import { classPath, problem } from "./house.js";

const WORDS = { id: "Id", name: "Name", "first name": "First name", "last name": "Last name", bench: "Bench", seat: "Seat" };
const NEEDED = ["id", "name"];
const NEED_NOT = ["bench", "seat"];

/** What is typed is kept while the page asks anew. @type {Map<string, HTMLInputElement>} */
const inputs = new Map();
let open = false;

function inputFor(column) {
  const made = inputs.get(column) ?? element("input", { class: "rm-input", autocomplete: "off", maxlength: 200, required: NEEDED.includes(column) });
  inputs.set(column, made);
  return made;
}

/**
 * @param {any} now - the class as it was told
 * @param {(person: {id: string, name: string}) => Promise<void>} added
 * @param {() => Promise<void>} look - asks anew
 */
export function lateForm(now, added, look) {
  if (!now.columns.length) return [];
  const wrong = element("div");
  const labels = now.columns.map((column) => element("label", { class: "rm-label" }, NEED_NOT.includes(column) ? `${WORDS[column]} (may stay empty)` : WORDS[column], inputFor(column)));
  const form = element(
    "form",
    { class: "rm-form pp-form" },
    element("p", { class: "rm-quiet" }, `They become the last line of ${now.roster}, and are dealt workbooks. Nobody else's change.`),
    ...labels,
    wrong,
    element("button", { class: "rm-button", type: "submit" }, "Add and deal"),
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const cells = Object.fromEntries(now.columns.map((column) => [column, inputFor(column).value]));
    try {
      const person = await ask(`${classPath()}people/add`, { cells, seen: now.seen });
      inputs.clear();
      await added(person);
    } catch (error) {
      wrong.replaceChildren(problem(error.message));
      if (error.status === 409) await refreshed(look, error.message);
    }
  });
  const box = element("details", { class: "hs-box pp-fold", open }, element("summary", {}, "Somebody comes late"), form);
  box.addEventListener("toggle", () => {
    open = box.open;
  });
  return [box];
}

/** The list as it is now, with what was refused still to be read. */
async function refreshed(look, words) {
  await look();
  document.querySelector(".pp-fold .rm-button")?.before(problem(words));
}
