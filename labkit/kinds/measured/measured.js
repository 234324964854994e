/** @import { Build } from "./frame.js" */

import { cautionBox } from "./caution.js";
import { element, newToken } from "./elements.js";
import { exercise } from "./frame.js";

/** @type {Build} */
function build(root, { shown, changed, settled, submit }) {
  const { meters } = shown.ask;
  const group = `lk-meter-${newToken()}`;
  const input = element("input", {
    type: "text",
    class: "lk-input",
    placeholder: shown.view.form,
    autocomplete: "off",
    spellcheck: "false",
    maxlength: 200,
  });
  const radios = meters.map((meter) => {
    const radio = element("input", { type: "radio", name: group, value: meter.id });
    radio.addEventListener("change", () => {
      changed();
      settled();
    });
    return radio;
  });
  const reading = element("label", { class: "lk-label" }, "What the meter shows, with its unit (OL if it is over range)", input);
  root.append(cautionBox(shown.view.caution));
  if (meters.length > 1) {
    const options = meters.map((meter, index) =>
      element("label", { class: "lk-option" }, radios[index], element("span", {}, meter.text)),
    );
    root.append(
      element(
        "fieldset",
        { class: "lk-meters" },
        element("legend", {}, "Measured with"),
        ...options,
      ),
    );
  } else {
    radios[0].checked = true;
    root.append(element("p", { class: "lk-meter" }, `Meter: ${meters[0].text}`));
  }
  root.append(reading);
  root.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Enter" && event.target === input) submit();
  });
  input.addEventListener("input", changed);
  input.addEventListener("change", settled);
  return {
    get: () => ({ value: input.value, meter: radios.find((radio) => radio.checked)?.value ?? "" }),
    set: (answer) => {
      input.value = typeof answer?.value === "string" ? answer.value : "";
      for (const radio of radios) radio.checked = radio.value === answer?.meter || radios.length === 1;
    },
  };
}

export default { render: exercise(build) };
