// The bench drawn as a line: trunk, taps, devices, supplies, terminators. What is chosen is opened
// below it. Nothing here knows of faults.

import { lamp } from "./bench_lamps.js";
import { shape } from "./elements.js";

const LINE_WIDTH = 820;
const TRUNK_Y = 62;
const DEVICE_Y = 90;

// A name on two lines of about so many letters; what is longer is cut.
function twoLines(name, letters) {
  const lines = [""];
  for (const word of name.split(" ")) {
    const here = lines[lines.length - 1];
    if (here && (here + word).length > letters && lines.length < 2) lines.push(word);
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
  const gap = gapBetween(joints.length);
  return new Map(joints.map((joint, index) => [joint, 30 + index * gap]));
}

const gapBetween = (joints) => (LINE_WIDTH - 60) / Math.max(joints - 1, 1);

// How far the devices of one joint stand from each other, where there are several: side by side if there is room.
const stepBeside = (drawing, several) => Math.max(Math.min(62, (gapBetween(drawing.places.size) - 4) / several), 12);

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

// What is drawn so far: the parts that can be chosen (`spots`) and where lamps go, by name.
function emptyDrawing(view) {
  const dense = view.devices.length > 11;
  const picture = shape("svg", {
    viewBox: `0 0 ${LINE_WIDTH} ${dense ? 196 : 164}`,
    class: `lk-bench-line${dense ? " lk-dense" : ""}`,
    role: "group",
    "aria-label": "The network as a line: choose a part to open its connectors",
  });
  return { picture, dense, spots: new Map(), lamps: new Map(), places: placesOnLine(view) };
}

function addSpot({ picture, spots }, name, label, [x, y], ...shapes) {
  // Beside a supply, above the metres of the trunk, above a device.
  const [markX, markY] = [[x + 46, y + 5], [x, y - 26], [x + 22, y - 7]][rowOf({ y })];
  const marks = shape("text", { x: markX, y: markY, class: "lk-probe-mark", "aria-hidden": "true" });
  const node = shape(
    "g",
    { class: "lk-spot", tabindex: spots.size ? -1 : 0, role: "button", "aria-label": label, "aria-pressed": "false" },
    shape("title", {}, label),
    ...shapes,
    marks,
  );
  spots.set(name, { name, node, marks, x, y, label, seen: "", probes: "", parted: "" });
  picture.append(node);
}

// Supplies stand in the upper row, the trunk in the middle one, devices in the lower one.
function rowOf({ y }) {
  if (y < TRUNK_Y) return 0;
  return y === TRUNK_Y ? 1 : 2;
}

function drawTrunk({ picture, places }, view) {
  const socketOf = new Map(view.connectors.map((c) => [c.id, c.socket]));
  for (const piece of view.pieces.filter((each) => each.trunk)) {
    const [x1, x2] = [piece.a, piece.b].map((end) => places.get(socketOf.get(end)));
    picture.append(
      shape("line", { x1, x2, y1: TRUNK_Y, y2: TRUNK_Y, class: `lk-run lk-run-${piece.cables[0] ?? "none"}` }),
    );
    if (piece.metres && Math.abs(x2 - x1) > 34)
      picture.append(
        shape("text", { x: (x1 + x2) / 2, y: TRUNK_Y - 15, class: "lk-metres" }, `${+piece.metres.toFixed(1)} m`),
      );
    if (piece.plus === false)
      picture.append(
        shape("text", { x: (x1 + x2) / 2, y: TRUNK_Y - 29, class: "lk-metres" }, `${view.power[0]} cut by plan`),
      );
  }
}

function drawJoints(drawing) {
  for (const [joint, x] of drawing.places) {
    const [wide, high, look] = joint.endsWith(" end") ? [6, 16, "lk-resistor"] : [8, 8, "lk-joint-box"];
    const rx = look === "lk-joint-box" ? 3 : 0;
    const reach = high + (look === "lk-resistor" ? 8 : 5);
    addSpot(
      drawing, joint, joint, [x, TRUNK_Y],
      shape("rect", { x: x - 13, y: TRUNK_Y - reach, width: 26, height: 2 * reach, class: "lk-hit" }),
      shape("rect", { x: x - wide, y: TRUNK_Y - high, width: 2 * wide, height: 2 * high, rx, class: look }),
    );
  }
}

// The cable of a drop, under all else.
function drawDrop({ picture }, x1, x2, y1, y2) {
  picture.insertBefore(shape("line", { x1, x2, y1, y2, class: "lk-drop-line" }), picture.firstChild);
}

function drawSupplies(drawing, view, trunkOf) {
  for (const supply of view.supplies) {
    const x = drawing.places.get(trunkOf(supply));
    drawDrop(drawing, x, x, 30, TRUNK_Y - 8);
    addSpot(
      drawing, supply, supply, [x, 18],
      shape("rect", { x: x - 30, y: 4, width: 60, height: 26, rx: 4, class: "lk-box" }),
      shape("text", { x, y: 22, class: "lk-box-text" }, "24 V"),
    );
  }
}

function drawDevices(drawing, view, trunkOf) {
  const joints = view.devices.map(({ name }) => trunkOf(name));
  const atPlace = new Map();
  view.devices.forEach((device, index) => {
    const joint = joints[index];
    const beside = atPlace.get(joint) ?? 0;
    atPlace.set(joint, beside + 1);
    const several = joints.filter((each) => each === joint).length;
    const step = stepBeside(drawing, several);
    const from = drawing.places.get(joint);
    const x = from + (beside - (several - 1) / 2) * step;
    const y = DEVICE_Y + (drawing.dense && index % 2 ? 52 : 0) + (step < 40 ? beside * 10 : 0);
    drawDrop(drawing, from, x, TRUNK_Y + 8, y);
    drawDevice(drawing, view, device, [x, y], several > 1 ? 8 : 11);
  });
}

function drawDevice(drawing, { names, scanner: asks }, { name, address }, [x, y], letters) {
  const scanner = name === asks;
  const planned = address === null ? "" : `, ${names.address} ${address}`;
  const holder = shape("g", { class: "lk-looks" });
  drawing.lamps.set(name, { holder, x, y: y + 32 });
  const lines = drawing.dense ? [] : twoLines(name, letters);
  addSpot(
    drawing, name, `${name}${planned}${scanner ? `, ${names.scanner}` : ""}`, [x, y],
    shape("rect", { x: x - 18, y, width: 36, height: 46, rx: 4, class: `lk-box${scanner ? " lk-scanner" : ""}` }),
    shape("text", { x, y: y + 17, class: "lk-box-text" }, String(address ?? "M")),
    ...lines.map((words, row) => shape("text", { x, y: y + 58 + row * 13, class: "lk-box-name" }, words)),
    holder,
  );
}

// The nearest part in the direction of an arrow: along a row, or in the next row up or down.
function beside(spots, from, key) {
  const across = key === "ArrowLeft" || key === "ArrowRight";
  const sign = key === "ArrowRight" || key === "ArrowDown" ? 1 : -1;
  const wanted = rowOf(from) + (across ? 0 : sign);
  const ahead = [...spots.values()].filter(
    (spot) => spot !== from && rowOf(spot) === wanted && (!across || (spot.x - from.x) * sign > 0),
  );
  const away = (spot) => Math.abs(spot.x - from.x);
  return ahead.reduce((best, spot) => (!best || away(spot) < away(best) ? spot : best), null);
}

// Arrows walk from part to part, one of which the Tab key comes to; Enter and the space bar choose.
function walkWithArrows({ picture, spots }, pick) {
  picture.addEventListener("keydown", (event) => {
    const here = [...spots.values()].find(({ node }) => node === document.activeElement);
    if (!here) return;
    if (event.key.startsWith("Arrow")) {
      event.preventDefault();
      const next = beside(spots, here, event.key);
      if (!next) return;
      for (const { node } of spots.values()) node.setAttribute("tabindex", node === next.node ? 0 : -1);
      next.node.focus();
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      pick(here.name);
    }
  });
}

// What a screen reader says of a part is what the drawing shows of it.
function speak(spot) {
  spot.node.setAttribute("aria-label", spot.label + spot.seen + spot.parted + spot.probes);
}

// looks: device name → its two lamps; a device that is left out was not looked at.
function showLooks({ spots, lamps }, [first, second], looks) {
  for (const [name, { holder, x, y }] of lamps) {
    const [network, module] = looks[name] ?? ["unknown", "unknown"];
    holder.replaceChildren(lamp(x - 8, y, network, "round"), lamp(x + 9, y, module, "square"));
    const spot = spots.get(name);
    spot.seen = looks[name] ? `, ${first} ${network}, ${second} ${module}` : "";
    speak(spot);
  }
}

function showProbes({ spots }, red, black) {
  for (const [name, spot] of spots) {
    spot.marks.textContent = [red === name ? "+" : "", black === name ? "−" : ""].join("");
    spot.probes = [red === name ? ", red probe here" : "", black === name ? ", black probe here" : ""].join("");
    speak(spot);
  }
}

function showUnplugged({ spots }, sockets) {
  for (const [name, spot] of spots) {
    const parted = sockets.includes(name);
    spot.node.classList.toggle("lk-parted", parted);
    spot.parted = parted ? ", a connector unplugged" : "";
    speak(spot);
  }
}

// choose(name) is called when a part is chosen.
export function benchLine(view, choose) {
  const drawing = emptyDrawing(view);
  const { picture, spots } = drawing;
  const trunkOf = hangsOn(view, drawing.places);
  let chosen = null;

  function pick(name) {
    chosen = name;
    for (const [other, { node }] of spots) {
      node.setAttribute("aria-pressed", String(other === name));
      node.setAttribute("tabindex", other === name ? 0 : -1);
    }
    choose(name);
  }

  drawTrunk(drawing, view);
  drawJoints(drawing);
  drawSupplies(drawing, view, trunkOf);
  drawDevices(drawing, view, trunkOf);
  for (const { node, name } of spots.values()) node.addEventListener("click", () => pick(name));
  walkWithArrows(drawing, pick);
  return {
    picture,
    pick,
    chosen: () => chosen,
    showLooks: (looks) => showLooks(drawing, view.names.lamps, looks),
    showProbes: (red, black) => showProbes(drawing, red, black),
    showUnplugged: (sockets) => showUnplugged(drawing, sockets),
  };
}
