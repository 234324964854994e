// Making up a connector, and choosing where terminators and earths stand along a trunk.

/** @import { Build } from "./frame.js" */

import { element } from "./elements.js";
import { exercise } from "./frame.js";
import { Connector } from "./wiring_connector.js";
import { wiringTest } from "./wiring_test.js";
import { trunk } from "./wiring_trunk.js";

/** @type {Build} */
function build(root, { shown, changed, settled, step }) {
  const { colours, said: words, places, parts } = shown.view;
  const said = element("p", { class: "lk-caption", role: "status", "aria-live": "polite" });
  const connector = new Connector(root, { colours, words, device: shown.ask.device, said, touched });
  const line = trunk({ places, parts, touched });
  const test = wiringTest({ get, step });

  if (parts.includes("conductors")) root.append(connector.node);
  root.append(said, ...line.nodes);
  if (shown.practice) root.append(test.node);

  function show() {
    connector.show();
    line.show();
  }

  function touched() {
    show();
    test.stale();
    changed();
    settled();
  }

  function get() {
    return {
      conductors: { ...connector.landed },
      terminators: line.get("terminators"),
      shield: line.get("shield"),
    };
  }

  function set(answer) {
    connector.set(answer?.conductors);
    line.set("terminators", answer?.terminators);
    line.set("shield", answer?.shield);
    show();
  }

  root.addEventListener("keydown", (event) => event.stopPropagation());
  show();
  return { get, set };
}

export default { render: exercise(build) };
