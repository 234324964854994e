// A connector to make up (drag a conductor, or choose it and then a terminal, or press 1 to 5 on it),
// and a small trunk on which terminators and earths are switched on and off.

/** @import { Build } from "./frame.js" */

import { dragging } from "./dragging.js";
import { element } from "./elements.js";
import { exercise } from "./frame.js";

const GLYPHS = {
  terminators: '<svg viewBox="0 0 26 22" aria-hidden="true"><path d="M1 11h4M21 11h4"/><rect x="5" y="6" width="16" height="10"/></svg>',
  shield: '<svg viewBox="0 0 26 22" aria-hidden="true"><path d="M13 1v9M4 10h18M8 14.5h10M11 19h4"/></svg>',
};
const ROWS = { terminators: "Terminator", shield: "Shield to earth" };
const TEST_PATIENCE_MS = 30000;

/** @type {Build} */
function build(root, { shown, changed, settled, step }) {
  const { view } = shown;
  const asked = (part) => view.parts.includes(part);
  const landed = Object.fromEntries(view.colours.map((colour) => [colour, 0]));
  const chosen = { terminators: new Set(), shield: new Set() };
  const drag = dragging(root);
  let held = null; // the conductor that a press on a terminal lands
  let reading = null;

  const word = (colour) => (colour === "bare" ? "bare (drain wire)" : colour);
  const said = element("p", { class: "lk-caption", role: "status", "aria-live": "polite" });

  // ---- the connector
  const slots = [1, 2, 3, 4, 5].map((number) => {
    const slot = element(
      "button",
      { type: "button", class: "lk-screw-slot", "data-slot": number },
      element("span", { class: "lk-screw" }, String(number)),
      element("span", { class: "lk-landed", "aria-hidden": "true" }),
      element("span", { class: "lk-screw-slot-name", "aria-hidden": "true" }),
    );
    slot.addEventListener("click", () => {
      if (drag.justEnded()) return;
      if (held) land(held, number);
      else if (on(number)) land(on(number), 0);
      else said.textContent = "Choose a conductor first, then its terminal.";
    });
    slot.addEventListener("pointerdown", (event) => on(number) && grab(event, on(number)));
    slot.addEventListener("keydown", (event) => along(event, slots));
    return slot;
  });
  const strands = view.colours.map((colour) => {
    const strand = element(
      "button",
      { type: "button", class: "lk-strand", "data-strand": colour },
      element("span", { class: `lk-strand-line lk-strand-${colour}`, "aria-hidden": "true" }),
      element("span", {}, colour),
      element("span", { class: "lk-strand-where" }),
    );
    strand.addEventListener("click", () => {
      if (drag.justEnded()) return;
      held = held === colour ? null : colour;
      show();
      if (held) said.textContent = `${word(colour)}: now choose a terminal.`;
    });
    strand.addEventListener("pointerdown", (event) => grab(event, colour));
    strand.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      if (/^[1-5]$/.test(event.key)) land(colour, Number(event.key));
      else if (["0", "Delete", "Backspace"].includes(event.key)) land(colour, 0);
      else return along(event, strands);
      event.preventDefault();
    });
    return strand;
  });

  function on(number) {
    return view.colours.find((colour) => landed[colour] === number);
  }

  function slotAt(x, y) {
    return slots.find((slot) => {
      const box = slot.getBoundingClientRect();
      return x >= box.left - 4 && x <= box.right + 4 && y >= box.top - 8 && y <= box.bottom + 24;
    });
  }

  function grab(event, colour) {
    drag.start(event, colour, {
      over: (x, y) => {
        const under = slotAt(x, y);
        for (const slot of slots) slot.classList.toggle("lk-under-drag", slot === under);
      },
      drop: (x, y) => land(colour, Number(slotAt(x, y)?.dataset.slot ?? 0)),
      end() {
        for (const slot of slots) slot.classList.remove("lk-under-drag");
      },
    });
  }

  function land(colour, number) {
    const before = number ? on(number) : null;
    if (before && before !== colour) landed[before] = 0;
    landed[colour] = number;
    held = null;
    const off = before && before !== colour ? ` ${word(before)} is loose now.` : "";
    said.textContent = number ? `${word(colour)} on terminal ${number}.${off}` : `${word(colour)} is loose.`;
    touched();
  }

  // ---- the trunk
  const toggles = { terminators: [], shield: [] };
  const grid = element("div", { class: "lk-place-grid" });
  const rows = ["terminators", "shield"].filter(asked);
  // Twenty devices with their places are to be seen without scrolling sideways.
  const dense = view.places.length > 13;
  const each = dense ? 34 : 58;
  grid.classList.toggle("lk-dense-places", dense);
  grid.style.gridTemplateColumns = `max-content repeat(${view.places.length}, minmax(${each}px, 1fr))`;
  grid.style.minWidth = `${120 + each * view.places.length}px`;
  grid.append(element("span", {}));
  for (const [place] of view.places) grid.append(element("span", { class: "lk-place-name" }, place));
  grid.append(element("span", { class: "lk-row-name" }, "Trunk"));
  view.places.forEach(([place], index) => {
    const end = index === 0 ? " lk-trunk-first" : index === view.places.length - 1 ? " lk-trunk-last" : "";
    grid.append(element("span", { class: `lk-trunk-bar${end}${place.startsWith("power tap") ? " lk-feed" : ""}`, "aria-hidden": "true" }));
  });
  grid.append(element("span", {}));
  for (const [, at] of view.places) grid.append(element("span", { class: "lk-place-at" }, `${+at.toFixed(1)} m`));
  for (const part of rows) {
    grid.append(element("span", { class: "lk-row-name", "aria-hidden": "true" }, ROWS[part]));
    view.places.forEach(([place], index) => {
      const toggle = element("button", { type: "button", class: "lk-toggle", "aria-label": `${ROWS[part]} at ${place}`, tabindex: index ? -1 : 0, "data-part": part, "data-place": place });
      toggle.innerHTML = GLYPHS[part];
      toggle.title = `${ROWS[part]} at ${place}`;
      toggle.addEventListener("click", () => {
        if (!chosen[part].delete(place)) chosen[part].add(place);
        touched();
      });
      toggle.addEventListener("keydown", (event) => along(event, toggles[part], true));
      toggles[part].push(toggle);
      grid.append(toggle);
    });
  }

  function along(event, row, roving = false) {
    const move = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (!move) return;
    event.preventDefault();
    const next = row[(row.indexOf(event.currentTarget) + move + row.length) % row.length];
    if (roving) for (const each of row) each.setAttribute("tabindex", each === next ? 0 : -1);
    next.focus();
    next.scrollIntoView?.({ block: "nearest", inline: "nearest" });
  }

  // ---- the test
  const results = element("div", { "aria-live": "polite" });
  const test = element("button", { type: "button", class: "lk-button" }, "Test it with the meter");
  test.addEventListener("click", async () => {
    if (reading) return;
    const answer = get();
    reading = JSON.stringify(answer);
    test.setAttribute("aria-disabled", "true");
    results.replaceChildren(element("p", { class: "lk-caption" }, "Measuring …"));
    try {
      const reply = await step({ kind: "test", answer }, TEST_PATIENCE_MS);
      results.replaceChildren(reply.refused ? element("p", {}, reply.refused) : readingTable(reply.rows));
      if (JSON.stringify(get()) !== reading) stale();
    } catch (reason) {
      results.replaceChildren(element("p", { class: "lk-warn" }, String(reason)));
    } finally {
      reading = null;
      test.removeAttribute("aria-disabled");
    }
  });

  function readingTable(lines) {
    const body = element("tbody");
    for (const { words, shows, should, fits } of lines)
      body.append(
        element(
          "tr",
          { class: fits ? "" : "lk-off" },
          element("td", {}, words),
          element("td", { class: "lk-reading-figure" }, shows),
          element("td", { class: "lk-reading-figure" }, should),
          element("td", { class: fits ? "lk-fit" : "lk-unfit" }, fits ? "✓ fits" : "✗ does not fit"),
        ),
      );
    const heads = ["At the device's terminals", "The meter shows", "A sound network", ""];
    return element(
      "div",
      {},
      element("table", { class: "lk-readings" }, element("thead", {}, element("tr", {}, ...heads.map((words) => element("th", { scope: "col" }, words)))), body),
    );
  }

  function stale() {
    if (!results.querySelector("table") || results.querySelector(".lk-old")) return;
    results.prepend(element("p", { class: "lk-caption lk-old" }, "Measured before your last change: test again."));
  }

  // ---- together
  if (asked("conductors"))
    root.append(
      element(
        "div",
        { class: "lk-making" },
        element(
          "div",
          { class: "lk-connector" },
          element("p", { class: "lk-connector-title" }, `Connector of ${shown.ask.device}, opened`),
          element("div", { class: "lk-slots", role: "group", "aria-label": "Terminals" }, ...slots),
        ),
        element(
          "div",
          { class: "lk-strands", role: "group", "aria-label": "Conductors of the cable" },
          element("p", { class: "lk-area-title" }, "Conductors: drag one, or choose it, then a terminal"),
          ...strands,
        ),
      ),
    );
  root.append(said);
  if (rows.length)
    root.append(
      element("p", { class: "lk-area-title" }, `Along the trunk: choose where ${rows.map((part) => (part === "shield" ? "the shield is earthed" : "a terminator is fitted")).join(" and where ")}`),
      element("div", { class: "lk-places" }, grid),
    );
  if (shown.practice) root.append(element("div", { class: "lk-test" }, test, results));

  function touched() {
    show();
    stale();
    changed();
    settled();
  }

  function show() {
    for (const slot of slots) {
      const number = Number(slot.dataset.slot);
      const colour = on(number);
      slot.setAttribute("aria-label", `Terminal ${number}: ${colour ? word(colour) : "empty"}`);
      const [, landing, name] = slot.children;
      landing.className = `lk-landed${colour ? ` lk-strand-${colour}` : ""}`;
      name.textContent = colour ?? "";
      if (colour) slot.dataset.colour = colour;
      else delete slot.dataset.colour;
    }
    for (const strand of strands) {
      const colour = strand.dataset.strand;
      const where = landed[colour] ? `on ${landed[colour]}` : "loose";
      strand.setAttribute("aria-pressed", String(held === colour));
      strand.setAttribute("aria-label", `Conductor ${word(colour)}, ${landed[colour] ? `on terminal ${landed[colour]}` : "loose"}`);
      strand.querySelector(".lk-strand-where").textContent = where;
    }
    for (const part of rows)
      for (const toggle of toggles[part]) toggle.setAttribute("aria-pressed", String(chosen[part].has(toggle.dataset.place)));
  }

  function get() {
    const inOrder = (part) => view.places.map(([place]) => place).filter((place) => chosen[part].has(place));
    return { conductors: { ...landed }, terminators: inOrder("terminators"), shield: inOrder("shield") };
  }

  function set(answer) {
    for (const colour of view.colours) landed[colour] = answer?.conductors?.[colour] ?? 0;
    for (const part of ["terminators", "shield"]) chosen[part] = new Set(answer?.[part] ?? []);
    show();
  }

  root.addEventListener("keydown", (event) => event.stopPropagation());
  show();
  return { get, set };
}

export default { render: exercise(build) };
