// The bench's frame log.

import { button, element } from "./elements.js";

const TICK_MS = 60;
const HEADS = ["s", "identifier#data", "what it is"];

// Comes in as it did on the bus: each line appears at its time after power-up. It can be paused, and
// shown at once; whoever asked their system for little movement sees it at once.
export function frameLog(detail) {
  const times = detail.words.map(([time]) => time);
  const lines = detail.words.map((words, row) => logLine(words, detail.log?.[row]));
  const last = times.at(-1) ?? 0;
  const body = element("tbody");
  const list = logTable(body, lines.length === 0, detail.heads ?? HEADS);
  const clock = element("span", { class: "lk-caption" });
  const pause = button("Pause the log", turn, { class: "lk-button lk-small" });
  const atOnce = button("Show all at once", () => upTo(last), { class: "lk-button lk-small" });
  let shown = 0;
  let now = 0; // s since power-up
  let before = performance.now();
  let running = true;

  function upTo(seconds) {
    now = seconds;
    // Who has scrolled up to read is left there.
    const follows = list.scrollTop + list.clientHeight >= list.scrollHeight - 40;
    const from = shown;
    while (shown < lines.length && times[shown] <= now) shown += 1;
    body.append(...lines.slice(from, shown));
    if (follows && shown > from) list.scrollTop = list.scrollHeight;
    if (shown === lines.length) end();
    else clock.textContent = `${now.toFixed(1)} s after power-up`;
  }

  function end() {
    clearInterval(timer);
    clock.textContent = lines.length
      ? `${lines.length} ${detail.log ? "frames" : "lines"}, the last at ${last.toFixed(2)} s`
      : "No frame came in.";
    // The keyboard stays where something is left to do.
    if ([pause, atOnce].some((each) => each === document.activeElement)) list.focus();
    pause.hidden = atOnce.hidden = true;
  }

  function turn() {
    running = !running;
    pause.textContent = running ? "Pause the log" : "Go on";
  }

  function tick() {
    const time = performance.now();
    if (running) upTo(now + (time - before) / 1000);
    before = time;
    if (!list.isConnected) clearInterval(timer);
  }

  const timer = setInterval(tick, TICK_MS);
  if (!lines.length || window.matchMedia("(prefers-reduced-motion: reduce)").matches) upTo(last);
  return element("div", {}, element("div", { class: "lk-log-head" }, pause, atOnce, clock), list);
}

function logTable(body, empty, columns) {
  const heads = columns.map((words) => element("th", { scope: "col" }, words));
  return element(
    "div",
    { class: `lk-log${empty ? " lk-log-empty" : ""}`, tabindex: 0, role: "region", "aria-label": "Frame log" },
    element("table", {}, element("thead", {}, element("tr", {}, ...heads)), body),
  );
}

// `text` is the line of an open log format, where there is one; else the line has its own bytes.
function logLine([time, bytes, words, trouble], text) {
  return element(
    "tr",
    { class: trouble ? "lk-trouble" : "" },
    element("td", { class: "lk-mono" }, time.toFixed(6)),
    element("td", { class: "lk-mono" }, text === undefined ? bytes : text.split(" ").pop()),
    element("td", {}, `${trouble ? "⚠ " : ""}${words}`),
  );
}
