// In practice: what the meter shows at what was made.

import { button, element } from "./elements.js";

const PATIENCE_MS = 30000;
const HEADS = ["At the device's terminals", "The meter shows", "A sound network", ""];

function readingTable(lines) {
  const rows = lines.map(({ words, shows, should, fits }) =>
    element(
      "tr",
      { class: fits ? "" : "lk-off" },
      element("td", {}, words),
      element("td", { class: "lk-reading-figure" }, shows),
      element("td", { class: "lk-reading-figure" }, should),
      element("td", { class: fits ? "lk-fit" : "lk-unfit" }, fits ? "✓ fits" : "✗ does not fit"),
    ),
  );
  const head = element("tr", {}, ...HEADS.map((words) => element("th", { scope: "col" }, words)));
  const table = element("table", { class: "lk-readings" }, element("thead", {}, head), element("tbody", {}, ...rows));
  return element("div", {}, table);
}

// get() is the answer as it stands; step() asks Python for the readings.
export function wiringTest({ get, step }) {
  const results = element("div", { "aria-live": "polite" });
  let reading = null;
  const press = button("Test it with the meter", async () => {
    if (reading) return;
    const answer = get();
    reading = JSON.stringify(answer);
    press.setAttribute("aria-disabled", "true");
    results.replaceChildren(element("p", { class: "lk-caption" }, "Measuring …"));
    try {
      const reply = await step({ kind: "test", answer }, PATIENCE_MS);
      results.replaceChildren(reply.refused ? element("p", {}, reply.refused) : readingTable(reply.rows));
      if (JSON.stringify(get()) !== reading) stale();
    } catch (reason) {
      results.replaceChildren(element("p", { class: "lk-warn" }, String(reason)));
    } finally {
      reading = null;
      press.removeAttribute("aria-disabled");
    }
  });

  function stale() {
    if (!results.querySelector("table") || results.querySelector(".lk-old")) return;
    results.prepend(element("p", { class: "lk-caption lk-old" }, "Measured before your last change: test again."));
  }

  return { node: element("div", { class: "lk-test" }, press, results), stale };
}
