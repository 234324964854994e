import { element, newToken } from "./elements.js";
import { exercise } from "./frame.js";
import { LadderEditor } from "./ladder_editor.js";
import { fieldPanel } from "./ladder_panel.js";
import { lampsOf, named, tryCaution } from "./ladder_lamps.js";

function operandTable(ask) {
  const parts = [["inputs", "input"], ["outputs", "output"], ["memory", "memory"]];
  // Where the author says nothing of any operand, an empty column would only puzzle.
  const described = parts.some(([part]) => ask[part].some((each) => each.text));
  const rows = parts.flatMap(([part, word]) =>
    ask[part].map((each) =>
      element(
        "tr",
        {},
        element("th", { scope: "row" }, each.id),
        element("td", {}, word),
        ...(described ? [element("td", {}, each.text)] : []),
      ),
    ),
  );
  const words = described ? ["Operand", "Area", "What it is"] : ["Operand", "Area"];
  const head = words.map((word) => element("th", { scope: "col" }, word));
  return element("table", { class: "lk-plan lk-operands" }, element("thead", {}, element("tr", {}, ...head)), element("tbody", {}, ...rows));
}

// Trying out: switches for the inputs, lamps for the outputs; Python runs the program.
function tryPanel(shown, model, editor) {
  const { inputs, outputs, memory } = shown.ask;
  const switches = inputs.map((each) => {
    const box = element("input", { type: "checkbox", role: "switch" });
    box.addEventListener("change", ask);
    const state = element("span", { class: "lk-state" }, "off");
    return { id: each.id, box, state, label: element("label", { class: "lk-switch" }, box, named(each), state) };
  });
  const lamps = lampsOf([...outputs, ...memory]);
  const told = element("p", { class: "lk-caption", role: "status" });
  const reset = element("button", { type: "button", class: "lk-button" }, "All off, memory cleared");
  let image = {};
  let token = null;

  function ask() {
    token = newToken();
    const on = switches.filter(({ box }) => box.checked).map(({ id }) => id);
    for (const { box, state } of switches) state.textContent = box.checked ? "on" : "off";
    try {
      model.send({ do: "try", token, program: editor.get(), on, memory: image });
    } catch {
      told.textContent = "No answer. Try again in a moment.";
    }
  }

  function show(tried) {
    image = tried.image;
    lamps.show(image);
    told.textContent = tried.problem || "Thick lines carry power.";
    editor.showPower(tried.power);
  }

  function heard(message) {
    if (message?.tried && message.token === token) show(message.tried);
  }

  reset.addEventListener("click", () => {
    for (const { box } of switches) box.checked = false;
    image = {};
    ask();
  });
  model.on("msg:custom", heard);
  const panel = element(
    "fieldset",
    { class: "lk-try" },
    element("legend", {}, "Try it"),
    element("div", { class: "lk-try-switches" }, ...switches.map(({ label }) => label)),
    lamps.node,
    element("div", { class: "lk-try-foot" }, reset, told),
    tryCaution(),
  );
  return { panel, ask, off: () => model.off("msg:custom", heard) };
}

function buildWith(model, cleanUp) {
  return (root, { shown, changed, settled }) => {
    let trying = null;
    const editor = new LadderEditor({
      ask: shown.ask,
      edited() {
        changed();
        settled();
        trying?.ask();
      },
    });
    root.append(operandTable(shown.ask), element("div", { class: "lk-scroll-x" }, editor.node));
    if (shown.practice) {
      trying = shown.ask.panel ? fieldPanel(shown, model, editor) : tryPanel(shown, model, editor);
      cleanUp.push(trying.off);
      root.append(trying.panel);
    }
    root.addEventListener("keydown", (event) => event.stopPropagation());
    return {
      get: () => editor.get(),
      set(answer) {
        editor.set(answer);
        trying?.ask();
      },
    };
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
