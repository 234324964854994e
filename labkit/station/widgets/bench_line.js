// The bench drawn as a line: trunk, taps, devices, supplies, terminators. What is chosen is opened
// below it. Nothing here knows of faults.

import { shape } from "./elements.js";

const LINE_WIDTH = 880;
const TRUNK_Y = 76;

// How an indicator is drawn: a letter and a ring besides its colour, so that colour is never alone.
export const LOOKS = {
  off: ["", "off"],
  green: ["G", "green"],
  "flashing green": ["g", "green"],
  red: ["R", "red"],
  "flashing red": ["r", "red"],
  "flashing red and green": ["x", "both"],
  unknown: ["?", "unknown"],
};

function lamp(x, y, look, form) {
  const [letter, colour] = LOOKS[look] ?? LOOKS.unknown;
  const flashing = look.startsWith("flashing");
  const classes = `lk-look lk-look-${colour}${flashing ? " lk-flashing" : ""}`;
  const body =
    form === "round"
      ? shape("circle", { cx: x, cy: y, r: 7, class: classes })
      : shape("rect", { x: x - 7, y: y - 7, width: 14, height: 14, rx: 2, class: classes });
  return shape(
    "g",
    {},
    body,
    shape("text", { x, y: y + 4, class: `lk-look-letter lk-on-${colour}${flashing ? " lk-on-flashing" : ""}` }, letter),
  );
}

// A name on two short lines; what is longer is cut.
function twoLines(name) {
  const lines = [""];
  for (const word of name.split(" ")) {
    const here = lines[lines.length - 1];
    if (here && (here + word).length > 11 && lines.length < 2) lines.push(word);
    else lines[lines.length - 1] = here ? `${here} ${word}` : word;
  }
  return lines.map((line) => (line.length > 13 ? `${line.slice(0, 12)}…` : line));
}

// Where everything stands, evenly spaced from left to right; the pieces carry their metres.
function placesOnLine(view) {
  const joints = [];
  for (const connector of view.connectors) {
    const trunk = connector.kind === "trunk" || connector.kind === "terminator";
    if (trunk && !joints.includes(connector.socket)) joints.push(connector.socket);
  }
  const right = joints.indexOf("right end");
  joints.push(...joints.splice(right, 1));
  const gap = (LINE_WIDTH - 60) / Math.max(joints.length - 1, 1);
  return new Map(joints.map((joint, index) => [joint, 30 + index * gap]));
}

// From a device or a supply back along pieces and joints to the place on the trunk it hangs on.
function hangsOn(view, places) {
  const socketOf = new Map(view.connectors.map((c) => [c.id, c.socket]));
  const next = new Map();
  for (const piece of view.pieces) {
    if (piece.trunk) continue;
    next.set(socketOf.get(piece.b), socketOf.get(piece.a));
  }
  return (part) => {
    let at = part;
    while (!places.has(at) && next.has(at)) at = next.get(at);
    return at;
  };
}

export function benchLine(view, choose) {
  const places = placesOnLine(view);
  const trunkOf = hangsOn(view, places);
  const dense = view.devices.length > 11;
  const height = dense ? 236 : 200;
  const picture = shape("svg", {
    viewBox: `0 0 ${LINE_WIDTH} ${height}`,
    class: `lk-bench-line${dense ? " lk-dense" : ""}`,
    role: "group",
    "aria-label": "The network as a line: choose a part to open its connectors",
  });
  const spots = new Map();
  const lamps = new Map();
  const socketOf = new Map(view.connectors.map((c) => [c.id, c.socket]));

  for (const piece of view.pieces.filter((each) => each.trunk)) {
    const [x1, x2] = [piece.a, piece.b].map((end) => places.get(socketOf.get(end)));
    picture.append(shape("line", { x1, x2, y1: TRUNK_Y, y2: TRUNK_Y, class: `lk-run lk-run-${piece.cables[0] ?? "none"}` }));
    if (piece.metres && Math.abs(x2 - x1) > 34)
      picture.append(shape("text", { x: (x1 + x2) / 2, y: TRUNK_Y - 20, class: "lk-metres" }, `${+piece.metres.toFixed(1)} m`));
  }

  function spot(name, label, x, y, ...shapes) {
    // Beside a supply, above the metres of the trunk, above a device.
    const [markX, markY] = y < TRUNK_Y ? [x + 46, y + 5] : y === TRUNK_Y ? [x, y - 33] : [x, y - 16];
    const marks = shape("text", { x: markX, y: markY, class: "lk-probe-mark", "aria-hidden": "true" });
    const node = shape(
      "g",
      { class: "lk-spot", tabindex: spots.size ? -1 : 0, role: "button", "aria-label": label, "aria-pressed": "false" },
      shape("title", {}, label),
      ...shapes,
      marks,
    );
    node.addEventListener("click", () => pick(name));
    spots.set(name, { node, marks, x, y, label, seen: "", probes: "", parted: "" });
    picture.append(node);
  }

  for (const [joint, x] of places) {
    if (joint.endsWith(" end")) {
      spot(
        joint, joint, x, TRUNK_Y,
        shape("rect", { x: x - 13, y: TRUNK_Y - 24, width: 26, height: 48, class: "lk-hit" }),
        shape("rect", { x: x - 6, y: TRUNK_Y - 16, width: 12, height: 32, class: "lk-resistor" }),
      );
    } else {
      spot(
        joint, joint, x, TRUNK_Y,
        shape("rect", { x: x - 13, y: TRUNK_Y - 13, width: 26, height: 26, class: "lk-hit" }),
        shape("rect", { x: x - 8, y: TRUNK_Y - 8, width: 16, height: 16, rx: 3, class: "lk-joint-box" }),
      );
    }
  }
  view.supplies.forEach((supply) => {
    const x = places.get(trunkOf(supply));
    picture.insertBefore(shape("line", { x1: x, x2: x, y1: 36, y2: TRUNK_Y - 8, class: "lk-drop-line" }), picture.firstChild);
    spot(
      supply, supply, x, 24,
      shape("rect", { x: x - 30, y: 8, width: 60, height: 28, rx: 4, class: "lk-box" }),
      shape("text", { x, y: 27, class: "lk-box-text" }, "24 V"),
    );
  });
  const atPlace = new Map();
  view.devices.forEach((device, index) => {
    const joint = trunkOf(device.name);
    const beside = atPlace.get(joint) ?? 0;
    atPlace.set(joint, beside + 1);
    const x = places.get(joint) + beside * 12;
    const y = 118 + (dense && index % 2 ? 56 : 0) + beside * 10;
    picture.insertBefore(shape("line", { x1: x, x2: x, y1: TRUNK_Y + 8, y2: y, class: "lk-drop-line" }), picture.firstChild);
    const holder = shape("g", { class: "lk-looks" });
    lamps.set(device.name, { holder, x, y: y + 34 });
    const scanner = device.name === view.scanner;
    spot(
      device.name, `${device.name}, planned node ${device.address}${scanner ? ", the scanner" : ""}`, x, y,
      shape("rect", { x: x - 18, y, width: 36, height: 50, rx: 4, class: `lk-box${scanner ? " lk-scanner" : ""}` }),
      shape("text", { x, y: y + 18, class: "lk-box-text" }, String(device.address)),
      ...(dense ? [] : twoLines(device.name).map((words, row) => shape("text", { x, y: y + 63 + row * 12, class: "lk-box-name" }, words))),
      holder,
    );
  });

  let chosen = null;

  // What a screen reader says of a part is what the drawing shows of it.
  function speak(spot) {
    spot.node.setAttribute("aria-label", spot.label + spot.seen + spot.parted + spot.probes);
  }

  function pick(name) {
    chosen = name;
    for (const [other, { node }] of spots) {
      node.setAttribute("aria-pressed", String(other === name));
      node.setAttribute("tabindex", other === name ? 0 : -1);
    }
    choose(name);
  }

  // The nearest part in the direction of an arrow: along a row, or in the next row up or down.
  function beside(from, key) {
    const across = key === "ArrowLeft" || key === "ArrowRight";
    const sign = key === "ArrowRight" || key === "ArrowDown" ? 1 : -1;
    const rowOf = (spot) => (spot.y < TRUNK_Y ? 0 : spot.y === TRUNK_Y ? 1 : 2);
    const wanted = rowOf(from) + (across ? 0 : sign);
    const ahead = [...spots.values()].filter(
      (spot) => spot !== from && rowOf(spot) === wanted && (!across || (spot.x - from.x) * sign > 0),
    );
    const away = (spot) => Math.abs(spot.x - from.x);
    return ahead.reduce((best, spot) => (!best || away(spot) < away(best) ? spot : best), null);
  }

  picture.addEventListener("keydown", (event) => {
    const names = [...spots.keys()];
    const here = names.findIndex((name) => spots.get(name).node === document.activeElement);
    if (here >= 0 && event.key.startsWith("Arrow")) {
      event.preventDefault();
      const next = beside(spots.get(names[here]), event.key);
      if (!next) return;
      for (const { node } of spots.values()) node.setAttribute("tabindex", -1);
      next.node.setAttribute("tabindex", 0);
      next.node.focus();
    } else if ((event.key === "Enter" || event.key === " ") && here >= 0) {
      event.preventDefault();
      pick(names[here]);
    }
  });

  return {
    picture,
    pick,
    chosen: () => chosen,
    // looks: device name → [network, module]; a device that is left out was not looked at.
    showLooks(looks) {
      for (const [name, { holder, x, y }] of lamps) {
        const [network, module] = looks[name] ?? ["unknown", "unknown"];
        holder.replaceChildren(lamp(x - 8, y, network, "round"), lamp(x + 9, y, module, "square"));
        const spot = spots.get(name);
        spot.seen = looks[name] ? `, network status ${network}, module status ${module}` : "";
        speak(spot);
      }
    },
    showProbes(red, black) {
      for (const [name, spot] of spots) {
        spot.marks.textContent = [red === name ? "+" : "", black === name ? "−" : ""].join("");
        spot.probes = [red === name ? ", red probe here" : "", black === name ? ", black probe here" : ""].join("");
        speak(spot);
      }
    },
    showUnplugged(sockets) {
      for (const [name, spot] of spots) {
        const parted = sockets.includes(name);
        spot.node.classList.toggle("lk-parted", parted);
        spot.parted = parted ? ", a connector unplugged" : "";
        speak(spot);
      }
    },
  };
}
