// One answer: what was asked, what was answered, why it has this mark; and a mark by hand, which is
// shown before it is given.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPath, problem } from "./house.js";
import { cautionsOf, givenBy, kept, meanwhile, plain, prose } from "./keeping.js";
import { mistakeOf, stateOf } from "./marks_person.js";
import { RubricItem } from "./rubric_item.js";

const MOST_NOTE = 2000;

function card(title, ...children) {
  return element("section", { class: "mk-card" }, element("h3", {}, title), ...children);
}

function asked(now) {
  const right = now.why?.right && !now.model ? [card("A right answer", element("p", { class: "ms-right-answer" }, now.why.right))] : [];
  const working = now.why?.working ? [element("details", {}, element("summary", {}, "How it is worked out"), prose("div", { class: "mk-prose" }, now.why.working))] : [];
  const picture = now.picture ? [element("details", {}, element("summary", {}, "Their network"), prose("div", { class: "ms-picture" }, now.picture))] : [];
  return [
    ...cautionsOf(now),
    card("Asked, with their numbers", prose("div", { class: "mk-prose" }, now.question), ...picture),
    // Text alone: whatever was typed is shown as it was typed, whole.
    card("Their answer", element("p", { class: "mk-theirs" }, now.answer || "Nothing was answered.")),
    ...right,
    ...(now.model ? [card("A model answer", prose("div", { class: "mk-prose" }, now.model))] : []),
    ...(working.length ? [card("Working", ...working)] : []),
  ];
}

function lines(some) {
  return some.map((line) => element("li", {}, line));
}

function whyCard(now) {
  const { why } = now;
  if (!why) return card("Why this mark", element("p", {}, "Nothing that counts was handed in."));
  const told = why.known ? mistakeOf(why.message) : prose("div", {}, why.message);
  const given = now.given?.holds && why.marked_by ? [element("p", {}, `Marked by ${givenBy(now.given, now.possible)}.`)] : [];
  const by = why.state === "waits" ? "A person marks this; nobody has yet." : "Marked by calculation.";
  const changes = [...why.by_hand, ...why.voids, ...why.decisions];
  return card(
    "Why this mark",
    element("p", {}, stateOf(why.state), ": ", element("b", {}, why.worth)),
    ...(given.length ? given : [element("p", {}, by)]),
    ...(why.message ? [told] : []),
    ...(why.hints ? [element("p", {}, why.hints)] : []),
    ...(why.tries.length ? [element("h4", {}, "Tries"), element("ul", { class: "ms-lines" }, ...lines(why.tries))] : []),
    ...(changes.length ? [element("h4", {}, "What was decided and put right"), element("ul", { class: "ms-lines" }, ...lines(changes))] : []),
    element("p", { class: "rm-quiet" }, [`By the lab's text, version ${why.version}.`, why.rules, why.hand_in].filter(Boolean).join(" ")),
  );
}

class ByHandForm {
  /** @param {any} now @param {(now: any, said: string) => void} shown - called with what holds by then */
  constructor(now, shown) {
    this.now = now;
    this.shown = shown;
    const whole = [{ id: "all", text: "The whole exercise", worth: now.possible }];
    const rubric = now.rubric.length ? now.rubric : whole;
    this.items = rubric.map((item, number) => new RubricItem(item, number, () => this.changed(), () => {}));
    this.note = element("textarea", { class: "rm-input mk-note", rows: 2, maxlength: MOST_NOTE });
    this.note.addEventListener("input", () => this.changed());
    this.seen = element("input", { type: "checkbox" });
    this.seen.addEventListener("change", () => this.changed());
    this.total = element("p", { class: "mk-total" });
    this.said = element("div", { role: "status" });
    this.look = button("See what it changes", () => this.tries(), { class: "rm-button" });
    if (now.given?.holds) for (const item of this.items) item.give((now.given.shares[item.id] ?? now.given.shares.all ?? 0) * item.worth);
    const seen = now.not_ready.length ? [element("label", { class: "ms-check" }, this.seen, "I have seen with my own eyes what was not said to be ready")] : [];
    const reason = now.why?.state === "waits" ? "A comment that the trainee reads, if you like" : "Why (the trainee reads it)";
    const open = now.why?.state === "waits";
    this.node = element(
      "details",
      { class: "mk-card ms-by-hand", open },
      element("summary", {}, open ? "Mark it" : "Put this mark right by hand"),
      element("ol", { class: "mk-items" }, ...this.items.map((item) => element("li", {}, item.root))),
      this.total,
      ...seen,
      element("label", { class: "rm-label mk-comment" }, reason, this.note),
      this.look,
      this.said,
    );
    this.changed();
  }

  changed() {
    const open = this.items.some((item) => item.points === null);
    const points = this.items.reduce((all, item) => all + (item.points ?? 0), 0);
    const cost = this.now.hint_cost ? `, less ${plain(this.now.hint_cost)} for hints` : "";
    this.total.textContent = open ? "" : `${plain(points)} of ${plain(this.now.possible)} points${cost}`;
    this.said.replaceChildren();
  }

  message() {
    const { work, exercise, digest, last } = this.now;
    const shares = Object.fromEntries(this.items.map((item) => [item.id, (item.points ?? 0) / item.worth]));
    return { work, exercise, digest, last, shares, note: this.note.value, not_ready: this.seen.checked };
  }

  async tries() {
    const open = this.items.find((item) => item.points === null);
    if (open) {
      this.said.replaceChildren(problem("Give points for each item first."));
      (open.input ?? open.root).focus();
      return;
    }
    const message = this.message();
    try {
      const told = await ask(`${classPath()}marks/try`, message);
      if (told.meanwhile) this.askWhose(told.meanwhile);
      else this.preview(told, message);
    } catch (error) {
      this.said.replaceChildren(problem(error.message));
    }
  }

  preview(told, message) {
    if (told.already) {
      this.said.replaceChildren(element("p", {}, told.already));
      return;
    }
    const nobody = told.pass_mark === null ? "" : told.crossing ? "" : `Nobody crosses the pass mark of ${told.pass_mark} % by it.`;
    const give = button("Give this mark", () => this.gives(message), { class: "rm-button" });
    this.said.replaceChildren(
      element(
        "div",
        { class: "ms-preview" },
        element("p", {}, element("b", {}, "Nothing is written yet. It would be: ")),
        element("ul", { class: "ms-lines" }, ...lines(told.changes.length ? told.changes : ["No result changes."])),
        ...(nobody ? [element("p", {}, nobody)] : []),
        element("div", { class: "rm-row" }, give, button("Leave it", () => this.said.replaceChildren(), { class: "rm-button ms-second" })),
      ),
    );
    give.focus();
  }

  async gives(message) {
    try {
      const heard = await kept(message, (words) => this.said.replaceChildren(problem(words)), `${classPath()}marks/give`);
      if (heard.meanwhile) this.askWhose(heard.meanwhile);
      else this.shown(heard.saved, `Saved: ${heard.told} Sheets and pages have it once they are written anew.`);
    } catch (error) {
      this.said.replaceChildren(problem(error.message));
    }
  }

  /** @param {any} now */
  askWhose(now) {
    if (!now.given) {
      this.shown(now, "The answer is another one by now: look at it again.");
      return;
    }
    const mine = () => {
      Object.assign(this.now, { last: now.last, digest: now.digest });
      this.tries();
    };
    this.said.replaceChildren(meanwhile(now, { keep: () => this.shown(now, "Theirs holds."), mine }));
  }
}

/** @param {any} now @param {string} [said] */
export function showAnswer(now, said = "") {
  const person = new URLSearchParams({ person: now.person });
  const out = new URLSearchParams({ right: "", lab: now.lab, exercise: now.exercise });
  const node = element("section", { class: "ms-answer" });
  const form = now.why ? [new ByHandForm(now, (then, words) => node.replaceWith(showAnswer(then, words))).node] : [];
  const attempt = now.attempts > 1 ? `attempt ${now.attempt}` : "";
  node.append(
    element("p", {}, element("a", { class: "ms-back", href: `?${person}` }, `‹ ${now.name}`)),
    element("h2", { tabindex: -1 }, `${now.why ? `${now.why.number}. ` : ""}${now.title}`),
    element("p", { class: "rm-quiet" }, [`${now.name} (${now.person})`, now.lab_title, attempt, now.with_whom].filter(Boolean).join(" · ")),
    ...(said ? [element("p", { class: "ms-done", role: "status" }, said)] : []),
    element(
      "div",
      { class: "mk-answer" },
      element("div", { class: "mk-left" }, ...asked(now)),
      element(
        "div",
        { class: "mk-right" },
        whyCard(now),
        ...form,
        element("p", {}, element("a", { href: `?${out}` }, "Is the exercise at fault? Take it out of everybody's marks …")),
      ),
    ),
  );
  return node;
}
