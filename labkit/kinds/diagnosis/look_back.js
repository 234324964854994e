// The path that a trainee took at the bench, looked back at: each step with a bar for the faults that
// were possible before and after it, and a good path for comparison; of several faults at once, what
// each step showed of them.

import { element } from "./elements.js";

const LOOK_BACK_PATIENCE_MS = 120000;

export function lookBack(step) {
  const button = element("button", { type: "button", class: "lk-button lk-small" }, "Look back at your path");
  const found = element("div", { class: "lk-back", "aria-live": "polite" });
  let asked = false;
  button.addEventListener("click", async () => {
    if (asked) return;
    asked = true;
    button.setAttribute("aria-disabled", "true");
    found.replaceChildren(element("p", { class: "lk-caption" }, "Working out what each step could tell; this takes some seconds …"));
    try {
      const reply = await step({ kind: "look back" }, LOOK_BACK_PATIENCE_MS);
      found.replaceChildren(...(reply.refused ? [element("p", {}, reply.refused)] : backTables(reply.back)));
    } catch (reason) {
      found.replaceChildren(element("p", { class: "lk-warn" }, String(reason)));
    } finally {
      asked = false;
      button.removeAttribute("aria-disabled");
    }
  });
  return element("div", { class: "lk-back-box" }, button, found);
}

// How many faults are left, as a bar of the share of all; the part that the step ruled out is hatched.
function leftBar(before, after, all) {
  const bar = element("span", { class: "lk-left-bar", role: "img", "aria-label": `${before} possible before, ${after} after` });
  const share = (count) => `${(100 * count) / Math.max(all, 1)}%`;
  const gone = element("span", { class: "lk-left-gone" });
  const kept = element("span", { class: "lk-left-kept" });
  gone.style.width = share(before);
  kept.style.width = share(after);
  bar.append(gone, kept);
  return bar;
}

// Where several faults were in the bench, a step has sentences in place of a count.
function severalTable(back) {
  const rows = back.steps.map((each) => [
    element("span", {}, each.words, element("span", { class: "lk-caption" }, ` ${each.refused ? "not done" : each.text}`)),
    `${each.minutes} min`,
    each.told.join(" "),
  ]);
  return [
    element("h4", { class: "lk-open-title" }, "Your path"),
    element("p", { class: "lk-caption" }, back.about),
    back.names ? element("p", {}, back.names) : "",
    backTable(["What you did", "Time", "What it told"], rows),
  ];
}

function backTables(back) {
  if (!back.single) return severalTable(back);
  const rows = back.steps.map((each) => {
    const better = each.better
      ? `${each.better.words}: about ${Math.round(each.better.left)} left`
      : "";
    const counted = each.counted && !each.refused;
    return [
      element("span", {}, each.words, element("span", { class: "lk-caption" }, ` ${each.refused ? "not done" : each.text}`)),
      `${each.minutes} min`,
      counted ? leftBar(each.before, each.after, back.start) : element("span", { class: "lk-caption" }, each.refused ? "" : "not worked out"),
      counted ? (each.before === each.after ? String(each.after) : `${each.before} → ${each.after}`) : "",
      better,
    ];
  });
  const path = back.path.map((each, index) => {
    const before = index ? back.path[index - 1].left : back.start;
    return [
      element("span", {}, each.words, element("span", { class: "lk-caption" }, ` ${each.text}`)),
      `${each.minutes} min`,
      leftBar(before, each.left, back.start),
      before === each.left ? String(each.left) : `${before} → ${each.left}`,
    ];
  });
  const minutes = back.path.reduce((sum, each) => sum + each.minutes, 0);
  const parts = [
    element("h4", { class: "lk-open-title" }, "Your path"),
    element("p", { class: "lk-caption" }, `At the start ${back.start} single faults were possible. A bar shows how many were still possible: hatched before the step, full after it.`),
  ];
  parts.push(backTable(["What you did", "Time", "Possible faults", "", "What would have told more"], rows));
  if (back.later) parts.push(element("p", { class: "lk-caption" }, `Then came the repair and ${back.later - 1} more steps.`));
  if (path.length)
    parts.push(
      element("h4", { class: "lk-open-title" }, `A good path with the meter: ${minutes} minutes`),
      backTable(["What to do", "Time", "Possible faults", ""], path),
    );
  return parts;
}

function backTable(heads, rows) {
  return element(
    "table",
    { class: "lk-back-table" },
    element("thead", {}, element("tr", {}, ...heads.map((words) => element("th", { scope: "col" }, words)))),
    element("tbody", {}, ...rows.map((cells) => element("tr", {}, ...cells.map((cell) => element("td", {}, cell))))),
  );
}
