// What is left until the deadline, by the clock of the host: a laptop's own may be wrong.

import { element } from "./elements.js";

const MINUTE = 60_000;

/** @param {number} ms */
export function leftWords(ms) {
  if (ms <= 0) return "Time is up";
  if (ms < 5 * MINUTE) {
    const seconds = Math.ceil(ms / 1000);
    return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")} left`;
  }
  const minutes = Math.floor(ms / MINUTE);
  return minutes < 180 ? `${minutes} min left` : `${Math.floor(minutes / 60)} h ${minutes % 60} min left`;
}

/** @param {number} ms @param {boolean} stands - it is paused */
export function timeWords(ms, stands) {
  return stands && ms > 0 ? `${leftWords(ms)}, time stands still` : leftWords(ms);
}

export class TimeLeft {
  constructor() {
    this.ends = Number.NaN;
    /** As long as it is paused. @type {number | null} */
    this.still = null;
    this.node = element("p", { class: "pg-time", role: "timer", hidden: true });
    setInterval(() => this.show(), 1000);
  }

  /** @param {{ now: string, deadline: string, stands?: boolean } | null | undefined} clock - ISO 8601, the host's */
  takes(clock) {
    const left = Date.parse(clock?.deadline ?? "") - Date.parse(clock?.now ?? "");
    // By the time since the page began: it runs on evenly when the laptop's clock is set.
    this.ends = left + performance.now();
    this.still = clock?.stands ? left : null;
    this.node.hidden = Number.isNaN(this.ends);
    this.show();
  }

  show() {
    if (this.node.hidden) return;
    const left = this.still ?? this.ends - performance.now();
    this.node.textContent = timeWords(left, this.still !== null);
    this.node.classList.toggle("pg-short", left < 5 * MINUTE);
  }
}
