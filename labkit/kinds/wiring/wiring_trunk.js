// A small trunk on which terminators and earths are switched on and off.

import { alongRow } from "./along_row.js";
import { element, shape } from "./elements.js";

// What stands on a place: drawn, and in words.
const PARTS = {
  terminators: {
    name: "Terminator",
    asks: "a terminator is fitted",
    glyph: () => [
      shape("path", { d: "M1 11h4M21 11h4" }),
      shape("rect", { x: 5, y: 6, width: 16, height: 10 }),
    ],
  },
  shield: {
    name: "Shield to earth",
    asks: "the shield is earthed",
    glyph: () => [shape("path", { d: "M13 1v9M4 10h18M8 14.5h10M11 19h4" })],
  },
};

function emptyGrid(places) {
  const grid = element("div", { class: "lk-place-grid" });
  // Twenty devices with their places are to be seen without scrolling sideways.
  const dense = places.length > 13;
  const each = dense ? 34 : 58;
  grid.classList.toggle("lk-dense-places", dense);
  grid.style.gridTemplateColumns = `max-content repeat(${places.length}, minmax(${each}px, 1fr))`;
  grid.style.minWidth = `${120 + each * places.length}px`;
  return grid;
}

function trunkBar([place], index, places) {
  const end = index === 0 ? " lk-trunk-first" : index === places.length - 1 ? " lk-trunk-last" : "";
  const feed = place.startsWith("power tap") ? " lk-feed" : "";
  return element("span", { class: `lk-trunk-bar${end}${feed}`, "aria-hidden": "true" });
}

// touched() is called after each change.
export function trunk({ places, parts, touched }) {
  const chosen = { terminators: new Set(), shield: new Set() };
  const toggles = { terminators: [], shield: [] };
  const rows = Object.keys(PARTS).filter((part) => parts.includes(part));
  const grid = emptyGrid(places);

  function toggle(part, place, first) {
    const label = `${PARTS[part].name} at ${place}`;
    const made = element(
      "button",
      {
        type: "button",
        class: "lk-toggle",
        "aria-label": label,
        title: label,
        tabindex: first ? 0 : -1,
        "data-part": part,
        "data-place": place,
      },
      shape("svg", { viewBox: "0 0 26 22", "aria-hidden": "true" }, ...PARTS[part].glyph()),
    );
    made.addEventListener("click", () => {
      if (!chosen[part].delete(place)) chosen[part].add(place);
      touched();
    });
    made.addEventListener("keydown", (event) => alongRow(event, toggles[part], true));
    return made;
  }

  grid.append(
    element("span", {}),
    ...places.map(([place]) => element("span", { class: "lk-place-name" }, place)),
    element("span", { class: "lk-row-name" }, "Trunk"),
    ...places.map(trunkBar),
    element("span", {}),
    ...places.map(([, at]) => element("span", { class: "lk-place-at" }, `${+at.toFixed(1)} m`)),
  );
  for (const part of rows) {
    toggles[part] = places.map(([place], index) => toggle(part, place, index === 0));
    grid.append(element("span", { class: "lk-row-name", "aria-hidden": "true" }, PARTS[part].name), ...toggles[part]);
  }

  const asks = rows.map((part) => PARTS[part].asks).join(" and where ");
  return {
    nodes: rows.length
      ? [
          element("p", { class: "lk-area-title" }, `Along the trunk: choose where ${asks}`),
          element("div", { class: "lk-places" }, grid),
        ]
      : [],
    show() {
      for (const part of rows)
        for (const each of toggles[part])
          each.setAttribute("aria-pressed", String(chosen[part].has(each.dataset.place)));
    },
    get(part) {
      return places.map(([place]) => place).filter((place) => chosen[part].has(place));
    },
    set(part, wanted) {
      chosen[part] = new Set(wanted ?? []);
    },
  };
}
