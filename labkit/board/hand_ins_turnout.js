// Who handed in and who did not, a lab each: to look at, to copy, to print.

import { button, element } from "./elements.js";

function called(one) {
  const retake = one.attempt > 1 ? `, attempt ${one.attempt}` : "";
  const with_ = one.together.length ? `, together with ${one.together.join(" and ")}` : "";
  return `${one.name} (${one.id})${retake}${with_}`;
}

function nothing(one) {
  return one.begun ? "begun in the room, not handed in" : "not handed in";
}

function row(name, ...facts) {
  const said = facts.filter(Boolean).map((fact) => element("span", {}, fact));
  return element("li", {}, element("b", {}, name), element("span", { class: "hi-facts" }, ...said));
}

function came(one) {
  if (!one.received) return row(called(one), `${one.came_in} came in, none counts`);
  const which = one.came_in > 1 && `${one.came_in} came in; this one counts`;
  const made = one.in_room ? "handed in through the room" : `made ${one.made} by its laptop's clock`;
  return row(called(one), one.late && element("b", { class: "hi-late" }, "late"), `received ${one.received}`, made, `receipt ${one.code}`, which);
}

function lab(one) {
  const all = one.missing.length + one.handed_in.length;
  const missing = one.missing.length
    ? element("ul", { class: "hi-rows" }, ...one.missing.map((each) => row(called(each), nothing(each))))
    : element("p", {}, "Everybody handed in.");
  const handedIn = element("details", { class: "hi-apart" }, element("summary", {}, `Handed in (${one.handed_in.length})`));
  handedIn.append(element("ul", { class: "hi-rows" }, ...one.handed_in.map(came)));
  return element(
    "section",
    { class: "hi-lab" },
    element("h3", {}, one.title),
    element("p", {}, `${one.handed_in.length} of ${all} handed in.`, one.deadline && ` Deadline ${one.deadline}.`),
    missing,
    ...(one.handed_in.length ? [handedIn] : []),
    ...(one.sign_offs ? [element("p", { class: "rm-quiet hi-apart" }, "Sign-offs at the real bench are not counted here.")] : []),
  );
}

/** The list as text, for a message or a sheet. @param {any} known */
export function asText(known) {
  const labs = known.labs.map((one) => {
    const lines = one.missing.map((each) => `  ${called(each)}: ${nothing(each)}`);
    return [`${one.title}: ${one.handed_in.length} of ${one.handed_in.length + lines.length} handed in`, ...lines].join("\n");
  });
  return [`${known.title}, as of ${known.as_of}`, ...labs].join("\n");
}

/** The section that says who is missing; it changes only where something else is true. */
export class TurnoutShown {
  constructor() {
    this.known = null;
    this.labs = element("div", { class: "hi-labs" });
    this.asOf = element("p", { class: "rm-quiet" });
    this.copied = element("span", { class: "rm-quiet", role: "status" });
    this.shown = "";
    const ways = element(
      "div",
      { class: "rm-row hi-apart" },
      button("Print the list", () => print(), { class: "rm-button rm-small" }),
      button("Copy the list", () => this.copy(), { class: "rm-link" }),
      this.copied,
    );
    this.node = element("section", { class: "hs-box hi-list", "aria-labelledby": "hi-missing" }, element("h2", { id: "hi-missing" }, "Who is missing"), this.asOf, this.labs, ways);
  }

  /** @param {any} known */
  show(known) {
    this.known = known;
    this.asOf.textContent = `As of ${known.as_of}`;
    const shown = JSON.stringify(known.labs);
    if (shown === this.shown) return;
    this.shown = shown;
    const open = [...this.labs.querySelectorAll("details")].map((each) => each.open);
    this.labs.replaceChildren(...known.labs.map(lab));
    [...this.labs.querySelectorAll("details")].forEach((each, at) => {
      each.open = open[at] ?? false;
    });
  }

  async copy() {
    try {
      await navigator.clipboard.writeText(asText(this.known));
      this.copied.textContent = "Copied.";
    } catch {
      this.copied.textContent = "This browser does not let a page copy: print the list instead.";
    }
  }
}
