// The labs of a class on the trainer's page, and what is done with each: open, close, time, results.

import { clock } from "./asking.js";
import { button, element } from "./elements.js";
import { Fresh, say } from "./kept.js";
import { pairsOf } from "./pairs.js";

const MINUTES = [5, 10, 15, 30, 60, 90];

/** A list of minutes whose choice is an act. @param {string} words @param {(minutes: number) => void} chosen */
export function minutes(words, chosen) {
  const list = element(
    "select",
    { class: "rm-select", "aria-label": words },
    element("option", { value: "" }, words),
    ...MINUTES.map((each) => element("option", { value: each }, `${each} minutes`)),
  );
  list.addEventListener("change", () => {
    if (list.value) chosen(Number(list.value));
    list.value = "";
  });
  return list;
}

export class LabCard {
  /** @param {any} lab @param {(what: object) => Promise<void>} act */
  constructor(lab, act) {
    this.title = element("h2");
    this.state = element("p", { class: "rm-quiet" });
    this.toggle = button("", () => act({ act: this.open ? "close" : "open", lab: lab.id }), { class: "rm-button rm-small" });
    this.giveAll = minutes("Give all …", (n) => act({ act: "give time", lab: lab.id, trainee: "", minutes: n }));
    this.release = button("Release results", () => act({ act: "release", lab: lab.id }), { class: "rm-link" });
    this.released = element("span", { class: "rm-quiet" }, "results released");
    const endsIn = minutes("Ends in …", (n) => act({ act: "end in", lab: lab.id, minutes: n }));
    const ways = element("div", { class: "rm-row" }, this.toggle, endsIn, this.giveAll, this.release, this.released);
    this.pairs = new Fresh(element("div"), (now, people) => [pairsOf(now, people, act)]);
    this.nodes = [element("li", { class: "rm-lab" }, this.title, this.state, ways, this.pairs.node)];
  }

  /** @param {any} lab @param {any[]} people */
  shows(lab, people) {
    this.open = lab.open;
    const closed = lab.opens ? `opens at ${clock(lab.opens)}` : "closed";
    const open = lab.ends ? `open until ${clock(lab.ends)}` : "open";
    const state = lab.paused ? "paused" : lab.open ? open : closed;
    say(this.title, lab.title);
    say(this.state, `${lab.practice ? "practice" : "assessed"} · ${state}`);
    say(this.toggle, lab.open ? "Close" : "Open");
    this.giveAll.hidden = !lab.ends;
    this.release.hidden = lab.released;
    this.released.hidden = !lab.released;
    const { id, pairs } = lab;
    // Only what a pair is chosen from: the list must not be made anew with each answer.
    const free = people.map(({ id: who, name, labs }) => ({
      id: who,
      name,
      labs: labs[id] ? { [id]: { together: labs[id].together } } : {},
    }));
    this.pairs.shows({ id, pairs }, free);
  }
}
