/** @import { Build } from "./frame.js" */

import { cautionBox } from "./caution.js";
import { element, newToken } from "./elements.js";
import { exercise } from "./frame.js";
import { LogBox } from "./sign_off_log.js";

/** @returns {Build} */
function buildWith(model, cleanUp) {
  return (root, hooks) => build(root, hooks, model, cleanUp);
}

function build(root, { shown, changed, settled }, model, cleanUp) {
  const { items } = shown.ask;
  const count = element("p", { class: "lk-items-count" });
  const fields = new Map();
  const cards = items.map((item) => {
    const ready = element("input", { type: "checkbox" });
    const note = element("input", {
      type: "text",
      class: "lk-input lk-item-note",
      maxlength: shown.view.note,
      placeholder: "A note, if you like",
      autocomplete: "off",
      "aria-label": `Note on: ${item.text}`,
    });
    fields.set(item.id, { ready, note });
    ready.addEventListener("change", () => {
      showCount();
      changed();
      settled();
    });
    note.addEventListener("input", changed);
    note.addEventListener("change", settled);
    return element(
      "li",
      { class: "lk-item" },
      element("p", { class: "lk-item-text" }, item.text),
      element("p", { class: "lk-item-look" }, element("strong", {}, "Your instructor looks for: "), item.look_for),
      element(
        "div",
        { class: "lk-item-answer" },
        element("label", { class: "lk-ready" }, ready, element("span", {}, "Ready to be seen")),
        note,
      ),
    );
  });
  const log = shown.view.log
    ? new LogBox(shown.view.log, model, () => {
        changed();
        settled();
      })
    : null;
  root.append(cautionBox(shown.view.caution), element("ol", { class: "lk-items" }, ...cards), count);
  if (log) {
    cleanUp.push(() => log.off());
    root.append(log.node);
  }
  root.addEventListener("keydown", (event) => event.stopPropagation());
  cards.forEach((card, index) => {
    const id = `lk-item-${newToken()}`;
    card.querySelector(".lk-item-text").id = id;
    fields.get(items[index].id).ready.setAttribute("aria-describedby", id);
  });

  function showCount() {
    const ready = [...fields.values()].filter((field) => field.ready.checked).length;
    count.textContent = `${ready} of ${items.length} ready to be seen.`;
  }

  showCount();
  return {
    get: () => ({
      ...Object.fromEntries([...fields].map(([id, { ready, note }]) => [id, { ready: ready.checked, note: note.value }])),
      ...(log?.log ? { log: log.log } : {}),
    }),
    set: (answer) => {
      for (const [id, { ready, note }] of fields) {
        ready.checked = answer?.[id]?.ready === true;
        note.value = typeof answer?.[id]?.note === "string" ? answer[id].note : "";
      }
      log?.set(answer?.log);
      showCount();
    },
  };
}

function render(context) {
  const cleanUp = [];
  const done = exercise(buildWith(context.model, cleanUp))(context);
  return () => {
    for (const each of cleanUp) each();
    done();
  };
}

export default { render };
