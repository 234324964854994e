// Marking by hand: one exercise across everybody, answer by answer, by keys, mouse or finger.
// What a mark comes to is worked out by the room alone; this page holds points for as long as it takes.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { cautionsOf, givenBy, kept, meanwhile, plain, prose } from "./keeping.js";
import { RubricItem } from "./rubric_item.js";

const LOOK_AGAIN_MS = 10000;
const MOST_NOTE = 2000;
const KEYS = [
  ["0–9", "points"],
  [",", "half a point more"],
  ["↑ ↓", "item"],
  ["Enter", "save and next"],
  ["←", "back"],
  ["→", "skip"],
  ["C", "comment"],
];

const place = element("main", { class: "mk-page" });
const said = element("p", { class: "mk-said", role: "status" });
document.body.append(place);

let names = false; // hidden until they are asked for

function problem(words) {
  said.textContent = words;
  said.classList.toggle("rm-problem", words !== "");
}

// The list

function exerciseRow(lab, each) {
  const done = each.of - each.waiting;
  const what = each.in_person ? "to be seen" : "to mark";
  const state = each.waiting
    ? element("b", {}, done ? `${each.waiting} of ${each.of} ${what}` : `${each.waiting} ${what}`)
    : element("span", { class: "rm-quiet" }, each.of ? `all ${each.of} marked` : `nothing ${what} yet`);
  const name = [`${each.number}. ${each.title} `, element("span", { class: "rm-quiet" }, `${plain(each.possible)} marks`)];
  const place = each.in_person ? "sign-offs" : `#${lab.lab}/${each.exercise}`;
  const how = each.in_person ? element("span", { class: "rm-quiet" }, "seen at the real bench: sign-offs") : "";
  const bar = each.of ? element("meter", { min: 0, max: each.of, value: done, "aria-label": `${done} of ${each.of} marked` }) : "";
  return element(
    "li",
    {},
    element("a", { class: "mk-exercise", href: place }, element("span", { class: "mk-name" }, ...name, how), bar, state),
  );
}

function labCard(lab) {
  const missing = lab.missing
    ? `${lab.missing} ${lab.missing === 1 ? "is" : "are"} still at work: what is not handed in cannot be marked yet`
    : "everybody has handed in";
  const released = lab.released ? [element("p", {}, "Results are released: a mark that is changed now needs a reason."), anew()] : [];
  return element(
    "section",
    { class: "rm-lab" },
    element("h2", {}, lab.title),
    element("p", { class: "rm-quiet" }, `${lab.handed_in} handed in · ${missing}`),
    ...released,
    element("ul", { class: "mk-exercises" }, ...lab.exercises.map((each) => exerciseRow(lab, each))),
  );
}

/** What is on the trainees' pages follows from scoring: marks that came later are shown with the next one. */
function anew() {
  const made = button(
    "Show them the marks as they are now",
    async () => {
      made.disabled = true;
      problem("The results are worked out …");
      try {
        await ask("marking/results", {});
        problem("");
        said.textContent = "Everybody sees their marks as they are now.";
      } catch (error) {
        problem(error.message);
      }
      made.disabled = false;
    },
    { class: "rm-button rm-small mk-second" },
  );
  return made;
}

let before = "";

function listed({ labs, trainer }) {
  const now = JSON.stringify(labs);
  if (now === before && place.dataset.shows === "list") return;
  const stood = /** @type {HTMLAnchorElement | null} */ (document.activeElement?.closest("a"))?.getAttribute("href");
  before = now;
  place.dataset.shows = "list";
  place.replaceChildren(
    element("a", { class: "mk-back", href: "../trainer" }, "‹ The trainer's page"),
    element("h1", {}, "Marking"),
    element(
      "p",
      { class: "rm-quiet" },
      `Signed in as ${trainer}. What came in is here, through the room or on a stick; what two did together is here once.`,
    ),
    said,
    ...labs.map(labCard),
    ...(labs.length ? [] : [element("p", {}, "Nothing in this class waits for a mark by hand yet.")]),
    element("p", {}, element("a", { href: "sign-offs" }, "Sign-offs at the real bench")),
  );
  if (stood) /** @type {HTMLElement | null} */ (place.querySelector(`a[href="${CSS.escape(stood)}"]`))?.focus();
}

async function list() {
  try {
    const found = await ask("marking/list");
    if (!location.hash) listed(found);
  } catch (error) {
    problem(error.message);
    if (!said.isConnected) place.replaceChildren(said);
  }
}

// One exercise

function noteField() {
  return element("textarea", { class: "rm-input mk-note", rows: 2, maxlength: MOST_NOTE });
}

class Exercise {
  /** @param {any} found */
  constructor(found) {
    this.found = found;
    this.works = found.works;
    /** Of the answer that was shown last; none before the first, and at the end. @type {RubricItem[]} */
    this.items = [];
    /** @type {RubricItem | null} */
    this.item = null;
    this.note = noteField();
    this.total = element("p", { class: "mk-total" });
    this.at = Math.max(0, this.works.findIndex((work) => work.waits));
    this.busy = false;
    this.root = element("div", { class: "mk-answer" });
    this.progress = element("p", { class: "mk-progress" });
    this.choice = element("input", { type: "checkbox" });
    this.choice.checked = names;
    this.choice.addEventListener("change", () => this.showNames());
    this.hidden = element("span", { class: "rm-quiet" });
    place.dataset.shows = "exercise";
    place.replaceChildren(
      element("a", { class: "mk-back", href: "#" }, "‹ All exercises"),
      element("h1", {}, found.title),
      element(
        "div",
        { class: "rm-row mk-top" },
        this.progress,
        element("label", { class: "mk-names" }, this.choice, "Show names"),
        this.hidden,
      ),
      this.root,
    );
    this.sayNames();
    this.open(this.at);
  }

  sayNames() {
    this.hidden.textContent = names ? "" : "Names are hidden, and the order tells nothing of them.";
  }

  async showNames() {
    names = this.choice.checked;
    this.sayNames();
    const given = this.marks();
    await this.open(this.at);
    this.put(given);
  }

  async open(at) {
    this.at = at;
    const work = this.works[at]?.work;
    if (work === undefined) {
      this.root.replaceChildren(element("p", {}, "Nothing of this exercise has come in to be marked yet."));
      return;
    }
    try {
      const asked = new URLSearchParams({ work, exercise: this.found.exercise, ...(names && { names: "1" }) });
      const now = await ask(`marking/answer?${asked}`);
      if (this.works[this.at]?.work === work) this.show(now);
    } catch (error) {
      problem(error.message);
      this.items = []; // nothing of the answer before may be sent once more
      this.root.replaceChildren(said, this.moves());
    }
  }

  /** @param {any} now */
  show(now) {
    this.now = now;
    const { given } = now;
    problem("");
    const whole = [{ id: "all", text: "The whole exercise", worth: now.possible }];
    const rubric = now.rubric.length ? now.rubric : whole;
    this.items = rubric.map((item, number) => new RubricItem(item, number, () => this.sum(), (entered) => this.mind(entered)));
    this.note = noteField(); // a new one: nothing of another answer's can be undone into it
    const reason = now.released && given?.holds;
    const words = reason ? "Why you change it (the trainee reads it)" : "A comment that the trainee reads, if you like";
    this.root.replaceChildren(this.left(now), this.right(now, words));
    if (given?.holds) {
      for (const item of this.items) item.give((given.shares[item.id] ?? given.shares.all ?? 0) * item.worth);
      this.note.value = reason ? "" : given.note;
    }
    this.sum();
    this.step(this.items[0]);
    this.count();
  }

  left(now) {
    const model = prose("div", { class: "mk-prose" }, now.model);
    const together = now.together ? `${now.together + 1} worked at this together: it is marked once, for both.` : "";
    return element(
      "div",
      { class: "mk-left" },
      ...(now.who ? [element("p", { class: "mk-who" }, now.who)] : []),
      ...cautionsOf(now),
      element("section", { class: "mk-card mk-asked" }, element("h2", {}, "Asked, with their numbers"), prose("div", { class: "mk-prose" }, now.question)),
      element(
        "section",
        { class: "mk-card" },
        element("h2", {}, "Their answer"),
        // Text alone: whatever was typed is shown as it was typed, whole.
        element("p", { class: "mk-theirs" }, now.answer || "Nothing was answered."),
        ...(together ? [element("p", { class: "rm-quiet" }, together)] : []),
      ),
      ...(now.model ? [element("section", { class: "mk-card mk-model" }, element("h2", {}, "A model answer"), model)] : []),
    );
  }

  right(now, words) {
    return element(
      "div",
      { class: "mk-right" },
      element(
        "section",
        { class: "mk-card" },
        element("h2", {}, "Points"),
        ...this.earlier(now),
        element("ol", { class: "mk-items" }, ...this.items.map((item) => element("li", {}, item.root))),
        this.total,
        element("label", { class: "rm-label mk-comment" }, words, this.note),
        said,
        this.moves(),
      ),
    );
  }

  earlier({ given, possible, released }) {
    if (!given) return [];
    if (!given.holds) {
      return [element("p", { class: "mk-given" }, `An earlier answer of theirs was marked by ${givenBy(given, possible)}. This one is new.`)];
    }
    const change = released ? "The results are released: a change needs a reason." : "Mark again to change it; the earlier mark stays in the records.";
    return [element("p", { class: "mk-given" }, element("b", {}, "Marked "), `by ${givenBy(given, possible)}. ${change}`)];
  }

  moves() {
    this.save = button("Save and next", () => this.saveAndNext(), { class: "rm-button mk-save" });
    return element(
      "div",
      {},
      element(
        "div",
        { class: "rm-row mk-moves" },
        button("‹ Back", () => this.go(-1), { class: "rm-button mk-second" }),
        this.save,
        button("Skip ›", () => this.go(1), { class: "rm-button mk-second" }),
      ),
      element(
        "p",
        { class: "rm-quiet mk-keys" },
        ...KEYS.map(([pressed, does]) => element("span", {}, element("kbd", {}, pressed), ` ${does}`)),
      ),
    );
  }

  count() {
    const marked = this.works.filter((work) => !work.waits).length;
    this.progress.textContent = `Answer ${this.at + 1} of ${this.works.length} · ${marked} marked`;
  }

  sum() {
    const given = this.items.filter((item) => item.points !== null);
    const points = given.reduce((all, item) => all + (item.points ?? 0), 0);
    const cost = this.now.hint_cost ? `, less ${plain(this.now.hint_cost)} for hints` : "";
    this.total.textContent = `${plain(points)} of ${plain(this.now.possible)} points${cost}`;
  }

  marks() {
    if (!this.items.length) return null;
    return { points: this.items.map((item) => item.points), note: this.note.value };
  }

  /** Points as they stood, for the answer that is shown by now. */
  put(given) {
    if (!given || given.points.length !== this.items.length) return;
    for (const [number, item] of this.items.entries()) {
      if (given.points[number] !== null) item.give(given.points[number]);
    }
    this.note.value = given.note;
  }

  /** The item that number keys are for. @param {RubricItem} item */
  mind(item) {
    this.item = item;
    for (const each of this.items) each.root.classList.toggle("mk-here", each === item);
  }

  /** @param {RubricItem} item */
  step(item) {
    this.mind(item);
    (item.input ?? item.root).focus();
  }

  move(by) {
    const at = this.items.findIndex((each) => each === this.item) + by;
    if (this.items[at]) this.step(this.items[at]);
  }

  go(by) {
    if (this.busy) return;
    const at = this.at + by;
    if (at >= 0 && at < this.works.length) this.open(at);
    else if (by > 0) this.end();
  }

  async saveAndNext() {
    if (this.busy || !this.items.length) return;
    const open = this.items.find((item) => item.points === null);
    if (open) {
      problem("Give points for this item first.");
      this.step(open);
      return;
    }
    await this.send();
  }

  async send() {
    const { work, exercise, digest, last } = this.now;
    const shares = Object.fromEntries(this.items.map((item) => [item.id, (item.points ?? 0) / item.worth]));
    this.lock(true);
    said.textContent = "Saving …";
    try {
      const message = { work, exercise, shares, note: this.note.value, digest, last, names };
      const heard = await kept(message, problem);
      this.lock(false);
      if (heard.meanwhile) this.askWhose(heard.meanwhile);
      else this.saved();
    } catch (error) {
      this.lock(false);
      problem(error.message);
    }
  }

  lock(busy) {
    this.busy = busy;
    this.root.classList.toggle("mk-busy", busy);
  }

  saved() {
    this.works[this.at].waits = false;
    const later = this.works.findIndex((_, at) => at === this.at + 1);
    if (later >= 0) this.open(later);
    else this.end();
  }

  /** @param {any} now */
  askWhose(now) {
    const mine = this.marks();
    if (now.digest !== this.now.digest) {
      this.show(now);
      this.put(mine);
      problem("They handed in anew meanwhile: this is the new answer. Look at it, then save.");
      return;
    }
    this.works[this.at].waits = false;
    problem("");
    this.busy = true; // keys wait for the choice
    const box = meanwhile(now, {
      keep: () => {
        this.busy = false;
        this.go(1);
      },
      mine: () => {
        this.busy = false;
        box.remove();
        this.now = now;
        this.send();
      },
    });
    said.before(box);
    box.querySelector("button")?.focus();
  }

  /** After the last one: those that were passed over, or the end. */
  end() {
    const open = this.works.findIndex((work) => work.waits);
    if (open >= 0 && open !== this.at) {
      this.open(open);
      return;
    }
    const left = this.works.filter((work) => work.waits).length;
    const words = left ? `${left} still to mark.` : `All ${this.works.length} are marked.`;
    const back = element("a", { class: "rm-button", href: "#" }, "All exercises");
    this.items = [];
    this.root.replaceChildren(
      element(
        "section",
        { class: "mk-card mk-end" },
        element("h2", {}, words),
        element("p", {}, left ? "" : "They are on the disk. Look through them again and change what you like: once results are released, with a reason."),
        element("div", { class: "rm-row" }, back, button("From the first one", () => this.open(0), { class: "rm-button mk-second" })),
      ),
    );
    this.at = this.works.length - 1;
    this.count();
    back.focus();
  }

  /** @param {KeyboardEvent} event */
  pressed(event) {
    if (event.ctrlKey || event.altKey || event.metaKey) {
      if (event.key === "Enter" && event.ctrlKey) this.done(event, () => this.saveAndNext());
      return;
    }
    const target = /** @type {HTMLElement} */ (event.target);
    const { item } = this;
    if (this.busy || !item || !this.items.length) return;
    if (target === this.note) {
      if (event.key === "Escape") this.done(event, () => this.step(item));
      return;
    }
    if (target.closest("a, select, label, .mk-moves") && event.key === "Enter") return;
    const typing = target === item.input;
    const key = event.key;
    if (key === "Enter") this.done(event, () => this.saveAndNext());
    else if (key === "ArrowDown") this.done(event, () => this.move(1));
    else if (key === "ArrowUp") this.done(event, () => this.move(-1));
    else if (typing) return;
    else if (key === "ArrowLeft" || key === "Backspace") this.done(event, () => this.go(-1));
    else if (key === "ArrowRight") this.done(event, () => this.go(1));
    else if (/^[0-9]$/.test(key)) this.done(event, () => this.points(item, Number(key)));
    else if (key === "," || key === ".") this.done(event, () => this.points(item, (item.points ?? 0) + 0.5));
    else if (key.toLowerCase() === "c") this.done(event, () => this.note.focus());
  }

  /** @param {RubricItem} item @param {number} points */
  points(item, points) {
    if (item.give(points)) problem("");
    else problem(`This item has ${plain(item.worth)} at most.`);
  }

  done(event, act) {
    event.preventDefault();
    act();
  }
}

/** @type {Exercise | null} */
let open = null;

async function went() {
  const [lab, exercise] = decodeURIComponent(location.hash.slice(1)).split("/");
  open = null;
  problem("");
  if (!exercise) {
    list();
    return;
  }
  try {
    open = new Exercise(await ask(`marking/exercise?${new URLSearchParams({ lab, exercise })}`));
  } catch (error) {
    place.replaceChildren(element("a", { class: "mk-back", href: "#" }, "‹ All exercises"), said);
    problem(error.message);
  }
}

document.addEventListener("keydown", (event) => open?.pressed(event));
addEventListener("hashchange", went);
addEventListener("beforeunload", (event) => open?.busy && event.preventDefault());
setInterval(() => !location.hash && document.visibilityState === "visible" && list(), LOOK_AGAIN_MS);
went();
