// Sign-offs at the real bench, on a tablet: a person, what is to be seen of theirs, ticks, a note.
// The network there may be poor: what is not saved is tried again by itself, and is shown until it is.

import { agreementTable } from "./agreement.js";
import { ask, clock } from "./asking.js";
import { button, element } from "./elements.js";
import { cautionsOf, givenBy, kept, meanwhile, plain, prose } from "./keeping.js";

const LOOK_AGAIN_MS = 10000;
const MOST_NOTE = 2000;
const STATES = {
  signed: ["✓", "signed off"],
  ready: ["●", "ready to be seen"],
  "seen before": ["✓", "seen; counts once it is handed in"],
  "nothing ready": ["○", "handed in, nothing said to be ready"],
  "not handed in": ["○", "not handed in yet"],
};

const people = element("ul", { class: "so-people" });
const search = element("input", { class: "rm-input", type: "search", autocomplete: "off", "aria-label": "Find a person", placeholder: "Find a person" });
const panel = element("div", { class: "so-panel" });
const unsaved = element("p", { class: "so-unsaved", role: "status" });
const trouble = element("p", { class: "rm-problem", role: "status" });
document.body.append(
  element(
    "main",
    { class: "mk-page so-page" },
    element("a", { class: "mk-back", href: "../trainer" }, "‹ The trainer's page"),
    element("h1", {}, "Sign-offs at the bench"),
    unsaved,
    trouble,
    element("div", { class: "so-both" }, element("nav", { class: "so-list", "aria-label": "People" }, search, people), panel),
  ),
);

let everybody = [];
/** What was pressed and is not on the room's disk yet, by whose and which. @type {Map<string, any>} */
const waiting = new Map();

const keyOf = (work, exercise) => `${work}/${exercise}`;

function wanted() {
  const [id, work, exercise] = location.hash.slice(1).split("/").map(decodeURIComponent);
  return { person: everybody.find((one) => one.id === id), work, exercise };
}

function hashOf(...parts) {
  return `#${parts.map(encodeURIComponent).join("/")}`;
}

// Who

function summary(person) {
  const states = person.labs.flatMap((lab) => lab.exercises.map((each) => each.state));
  const ready = states.filter((state) => state === "ready").length;
  const signed = states.filter((state) => state === "signed" || state === "seen before").length;
  return `${ready ? `${ready} ready · ` : ""}${signed} of ${states.length} signed off`;
}

function listed() {
  const words = search.value.trim().toLowerCase();
  const { person: here } = wanted();
  const found = everybody.filter((one) => one.labs.length && one.name.toLowerCase().includes(words));
  people.replaceChildren(
    ...found.map((person) =>
      element(
        "li",
        {},
        element(
          "a",
          { class: "so-person", href: hashOf(person.id), "aria-current": person === here ? "true" : null },
          element("span", {}, person.name),
          element("span", { class: "rm-quiet" }, summary(person)),
        ),
      ),
    ),
    ...(found.length ? [] : [element("li", { class: "rm-quiet" }, everybody.length ? "Nobody here has something to be signed off." : "")]),
  );
}

function personShown(person) {
  const labs = person.labs.map((lab) =>
    element(
      "section",
      {},
      element("h3", {}, lab.title),
      ...(lab.together ? [element("p", { class: "rm-quiet" }, `Together with ${lab.together}: one sign-off, for both.`)] : []),
      element(
        "ul",
        { class: "so-exercises" },
        ...lab.exercises.map(({ exercise, title, state }) => {
          const late = waiting.has(keyOf(lab.work, exercise));
          const [mark, words] = late ? ["…", "not saved yet"] : STATES[state];
          const state_ = element("span", { class: "rm-quiet" }, `${mark} ${words}`);
          return element("li", {}, element("a", { class: "so-exercise", href: hashOf(person.id, lab.work, exercise) }, element("b", {}, title), state_));
        }),
      ),
    ),
  );
  panel.replaceChildren(element("a", { class: "mk-back so-up", href: "#" }, "‹ Everybody"), element("h2", {}, person.name), ...labs);
}

// What is to be seen

class Form {
  /** @param {any} person @param {any} now */
  constructor(person, now) {
    this.person = person;
    this.note = element("textarea", { class: "rm-input mk-note", rows: 3, maxlength: MOST_NOTE });
    this.noteWords = element("span");
    this.eyes = element("input", { type: "checkbox" });
    this.confirm = element("label", { class: "so-item so-eyes" }, this.eyes, element("span", {}, "I have seen it with my own eyes, although it was not said to be ready"));
    this.save = button("Save the sign-off", () => this.send(), { class: "rm-button so-save" });
    this.status = element("p", { class: "mk-said", role: "status" });
    this.show(now);
  }

  /** @param {any} now */
  show(now) {
    this.now = now;
    const { given } = now;
    const late = waiting.get(keyOf(now.work, now.exercise));
    this.boxes = now.rubric.map((item) => this.box(item, late?.shares ?? (given?.holds ? given.shares : {})));
    this.note.value = late?.note ?? (given?.holds && !now.released ? given.note : "");
    this.eyes.checked = late?.not_ready === true;
    for (const field of [this.save, this.note, this.eyes]) field.disabled = false;
    this.say("");
    panel.replaceChildren(
      element("a", { class: "mk-back", href: hashOf(this.person.id) }, `‹ ${this.person.name}: everything to be seen`),
      element("h2", {}, now.title),
      element("p", { class: "mk-who" }, now.who),
      ...cautionsOf(now),
      prose("div", { class: "mk-prose" }, now.question),
      this.rule(),
      ...this.log(),
      ...(given ? [element("p", { class: "mk-given" }, this.givenWords(given))] : []),
      element("ul", { class: "so-items" }, ...this.boxes.map(({ root }) => element("li", {}, root))),
      element("p", { class: "rm-quiet" }, "Tick what you saw yourself. What is not ticked counts as not seen."),
      this.confirm,
      element("label", { class: "rm-label" }, this.noteWords, this.note),
      this.save,
      this.status,
    );
    this.changed();
    if (late) this.lock(late.words);
  }

  box(item, shares) {
    const share = shares[item.id] ?? shares.all ?? 0;
    const tick = element("input", { type: "checkbox" });
    const made = { item, tick, share };
    tick.checked = share === 1;
    tick.indeterminate = share > 0 && share < 1;
    tick.addEventListener("change", () => {
      made.share = tick.checked ? 1 : 0;
      this.changed();
    });
    const unready = this.now.not_ready.includes(item.id) ? " · not said to be ready" : "";
    const words = element(
      "span",
      {},
      prose("span", { class: "mk-text" }, item.text),
      element("span", { class: "rm-quiet" }, `${plain(item.worth)} ${item.worth === 1 ? "mark" : "marks"}${unready}`),
    );
    return { ...made, root: element("label", { class: "so-item" }, tick, words), shareNow: () => made.share };
  }

  rule() {
    if (this.now.handed_in) {
      return element("p", { class: "rm-quiet so-rule" }, this.now.answer ? `Handed in. They say: ${this.now.answer}` : "Handed in; nothing was said to be ready.");
    }
    return element(
      "p",
      { class: "so-rule" },
      element("b", {}, "Not handed in yet. "),
      "A sign-off is of what somebody hands in. What you see now all the same is kept as seen in person: say so below, and what you saw. It counts as soon as this workbook is handed in.",
    );
  }

  /** What the log that they dropped says of their plan. Whoever signs decides. */
  log() {
    const told = this.now.against_plan;
    if (!told) return [];
    return [element("section", { class: "so-log" }, element("h3", {}, "Their log of the real network"), agreementTable(told))];
  }

  givenWords(given) {
    if (!given.holds) return `Signed off for an earlier answer by ${givenBy(given, this.now.possible)}.`;
    const change = this.now.released ? "The results are released: a change needs a reason, in the note." : "Save again to change it; the earlier one stays in the records.";
    return `Signed off by ${givenBy(given, this.now.possible)}. ${change}`;
  }

  /** Whether something is ticked that nobody said to be ready. */
  get unready() {
    return this.boxes.some(({ item, shareNow }) => shareNow() > 0 && this.now.not_ready.includes(item.id));
  }

  changed() {
    this.confirm.hidden = !this.unready;
    this.noteWords.textContent = this.unready ? "What you saw (the trainee reads it)" : "A note, if you like (the trainee reads it)";
  }

  lock(words) {
    this.save.disabled = true;
    for (const field of [this.note, this.eyes, ...this.boxes.map(({ tick }) => tick)]) field.disabled = true;
    this.say(words, "late");
  }

  say(words, how = "") {
    this.status.textContent = words;
    this.status.dataset.how = how;
  }

  message() {
    const { work, exercise, digest, last } = this.now;
    const shares = Object.fromEntries(this.boxes.map(({ item, shareNow }) => [item.id, shareNow()]));
    return { work, exercise, digest, last, shares, note: this.note.value, not_ready: this.unready && this.eyes.checked, names: true };
  }

  async send() {
    if (this.unready && !this.eyes.checked) return this.missing("Confirm that you have seen it: it was not said to be ready.", this.eyes);
    if (this.unready && !this.note.value.trim()) return this.missing("Say what you saw: it stays in the records as the reason.", this.note);
    const said = this.message();
    const key = keyOf(said.work, said.exercise);
    waiting.set(key, { ...said, who: this.person.name, title: this.now.title, words: "Saving …" });
    this.lock("Saving …");
    try {
      const heard = await kept(said, (words) => late(key, words));
      waiting.delete(key);
      toldUnsaved();
      settled(key, heard, said);
    } catch (error) {
      waiting.delete(key);
      toldUnsaved();
      if (shows(key)) {
        form?.show(form.now);
        form?.put(said);
        form?.say(error.message, "wrong");
      } else trouble.textContent = `${this.person.name}, ${this.now.title}: not saved. ${error.message}`;
    }
    return look();
  }

  missing(words, field) {
    this.say(words, "wrong");
    field.focus();
  }

  /** What was ticked, on a form that was made anew. */
  put(said) {
    this.boxes = this.boxes.map((box) => {
      const made = this.box(box.item, said.shares);
      box.root.replaceWith(made.root);
      return made;
    });
    this.note.value = said.note;
    this.eyes.checked = said.not_ready;
    this.changed();
  }
}

/** @type {Form | null} */
let form = null;

function shows(key) {
  return form !== null && keyOf(form.now.work, form.now.exercise) === key && form.status.isConnected;
}

function late(key, words) {
  const one = waiting.get(key);
  if (one) one.words = words;
  if (shows(key)) form?.say(words, "late");
  toldUnsaved();
}

function toldUnsaved() {
  const those = [...waiting.values()].filter(({ words }) => words !== "Saving …");
  unsaved.textContent = those.length ? `Not saved yet, tried again by itself: ${those.map(({ who, title }) => `${who}, ${title}`).join("; ")}.` : "";
}

/** The room has it, or has somebody else's. @param {any} heard @param {any} said */
function settled(key, heard, said) {
  if (heard.saved) {
    if (!shows(key)) return;
    form?.show(heard.saved);
    form?.say(`Saved at ${clock(heard.saved.given.at)}, in the name of ${heard.saved.given.by}.`, "saved");
    return;
  }
  const now = heard.meanwhile;
  if (!shows(key)) {
    trouble.textContent = `${now.who}, ${now.title}: yours is not saved. Meanwhile a mark was given by ${givenBy(now.given, now.possible)}.`;
    return;
  }
  const changed = now.digest !== said.digest;
  form?.show(now);
  form?.put(said);
  if (changed) {
    form?.say("They handed in anew meanwhile: look at what they say now, then save.", "wrong");
    return;
  }
  const box = meanwhile(now, {
    keep: () => form?.show(now),
    mine: () => {
      box.remove();
      form?.send();
    },
  });
  form?.save.before(box);
}

async function went() {
  const { person, work, exercise } = wanted();
  trouble.textContent = "";
  form = null;
  document.body.classList.toggle("so-chosen", Boolean(person));
  listed();
  if (!person) {
    panel.replaceChildren(element("p", { class: "rm-quiet so-empty" }, "Choose a person."));
    return;
  }
  if (!work) {
    personShown(person);
    return;
  }
  try {
    const now = await ask(`marking/answer?${new URLSearchParams({ work, exercise, names: "1" })}`);
    if (wanted().work === work && wanted().exercise === exercise) form = new Form(person, now);
  } catch (error) {
    panel.replaceChildren(element("a", { class: "mk-back", href: hashOf(person.id) }, `‹ ${person.name}`), element("p", { class: "rm-problem", role: "alert" }, error.message));
  }
}

let before = "";

async function look() {
  try {
    const found = await ask("sign-offs/people");
    const now = JSON.stringify([found.people, [...waiting.keys()]]);
    if (now === before) return;
    const first = before === "";
    before = now;
    everybody = found.people;
    const stood = /** @type {HTMLElement | null} */ (document.activeElement)?.getAttribute("href");
    if (first || !form) await went();
    else listed();
    if (stood) /** @type {HTMLElement | null} */ (document.querySelector(`a[href="${CSS.escape(stood)}"]`))?.focus();
  } catch (error) {
    if (!waiting.size) trouble.textContent = error.message;
  }
}

search.addEventListener("input", listed);
addEventListener("hashchange", went);
addEventListener("beforeunload", (event) => waiting.size && event.preventDefault());
setInterval(() => document.visibilityState === "visible" && look(), LOOK_AGAIN_MS);
look();
