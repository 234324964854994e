// A workbook on a page: one exercise in focus, the others one press away, what is read for it beside it.

import { draftStore } from "./draft_store.js";
import { Benches } from "./benches.js";
import { button, element } from "./elements.js";
import { howWords, stateOf } from "./exercise_state.js";
import { ExerciseModel } from "./exercise_model.js";
import { FromTrainer } from "./from_trainer.js";
import { HandingIn } from "./handing_in.js";
import { InTheHead } from "./in_the_head.js";
import { IN_TROUBLE, Link } from "./link.js";
import { OneMore } from "./one_more.js";
import { OtherHand } from "./other_hand.js";
import { earnedWords, resultBox, sumBox } from "./own_results.js";
import { clearOthers, draftsName } from "./own_drafts.js";
import { Pad } from "./pad.js";
import { readAloud } from "./read_aloud.js";
import { Reading } from "./reading.js";
import { SoFar } from "./so_far.js";
import { TimeLeft } from "./time_left.js";
import { tradeWords } from "./trade_words.js";
import { LAST, Way } from "./way.js";

const AWAY = "Your instructor's machine does not answer. What you type is kept in this browser.";
const NOT_YET = "Your instructor's machine does not answer. This page tries again by itself.";
const BEGIN_AGAIN_MS = 3000;
const LONG_MS = 60_000; // a bench may be played meanwhile; what takes longer does not come
const WORKED_AT = ".lk-area, .lk-buttons, .lk-ask-first, .pg-more";
const MORE = "more:";
const NOT_SAVED = ["editing", "saving", "stuck", "failed"];
const [ASKED, WHOLE, DRILLS] = [0, 1, 2]; // of what the host says of an exercise by which it is known to be the same

/** @type {Map<string, Promise<any>>} */
const modules = new Map();

/** A kind's page module, its sheet in the page. @param {string} kind */
function moduleOf(kind) {
  const found = modules.get(kind) ?? load(kind);
  modules.set(kind, found);
  return found;
}

/** @param {string} kind */
async function load(kind) {
  const sheet = element("link", { rel: "stylesheet", href: `kinds/${kind}.css` });
  const there = new Promise((done, failed) => {
    sheet.addEventListener("load", done);
    sheet.addEventListener("error", failed);
  });
  document.head.append(sheet);
  try {
    await there;
    return (await import(new URL(`kinds/${kind}.js`, document.baseURI).href)).default;
  } catch (error) {
    modules.delete(kind); // so that the next try asks again
    sheet.remove();
    throw error;
  }
}

// What an exercise shows, such as its bench with all that was done there.
/** @param {string} exercise */
async function shownOf(exercise) {
  const answer = await fetch(`shown/${encodeURIComponent(exercise)}`, { signal: AbortSignal.timeout(LONG_MS) });
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}

// Whether something on it has no room at the side of what is read: a bench, say.
/** @param {HTMLElement} node */
function needsRoom(node) {
  return [...node.querySelectorAll("*")].some((each) => each.clientWidth > 200 && each.scrollWidth > each.clientWidth + 1);
}

// What is to be read aloud of it: not the labels of pictures that were opened.
/** @param {Element} node */
function wordsOf(node) {
  const copy = /** @type {Element} */ (node.cloneNode(true));
  for (const picture of copy.querySelectorAll(".pg-word-picture")) picture.remove();
  return copy.textContent;
}

class Page {
  constructor(opened) {
    this.opened = opened;
    const person = opened.person ?? opened.trainee;
    clearOthers(person);
    this.drafts = draftsName(person, opened.workbook);
    this.other = new OtherHand(opened.sheet.steps.map(({ exercise }) => exercise));
    /** @type {Map<string, HTMLElement>} */
    this.places = new Map();
    this.steps = opened.sheet.steps;
    this.models = this.modelsOf();
    /** @type {Map<string, OneMore>} */
    this.everyMore = new Map();
    this.more = this.moreOf();
    this.lastShown = new Map();
    this.benches = new Benches(this.models, shownOf);
    this.way = this.wayOf();
    this.reading = this.readingOf();
    this.handing = new HandingIn();
    this.soFar = new SoFar();
    this.sum = element("div");
    /** @type {Map<string, import("./own_results.js").Mark>} */
    this.marks = new Map();
    this.aloud = readAloud(() => this.spoken());
    this.time = new TimeLeft();
    this.trainer = new FromTrainer();
    this.ofHost = new InTheHead();
    this.paused = false;
    /** @type {Element | null} */
    this.wasAt = null;
    this.line = element("p", { class: "pg-line", role: "status" });
    this.count = element("p", { class: "pg-count" });
    this.stage = element("main", { class: "pg-stage", id: "pg-stage", tabindex: -1 });
    this.beside = element("aside", { class: "pg-beside", "aria-label": "What you need for it" });
    this.at = "";
    this.away = "";
    this.shut = "";
    this.said = "";
    this.marksShown = "";
    this.build();
    this.link = new Link({
      heard: (heard) => this.heard(heard),
      there: (now) => this.isThere(now),
      back: () => this.isBack(),
      away: (words) => this.tell(words || AWAY),
      refused: (words) => this.refused(words),
    });
    addEventListener("storage", () => this.showStates()); // another window's drafts
    addEventListener("resize", () => this.makeRoom());
    addEventListener("hashchange", () => this.follow(this.at, true));
    this.follow(this.firstOpen());
  }

  // What is made of a lab's text, and once more when that was written anew.
  /** @param {Map<string, ExerciseModel>} [kept] - of the exercises that stay as they are */
  modelsOf(kept = new Map()) {
    return new Map(this.steps.map(({ exercise }) => [exercise, kept.get(exercise) ?? this.modelOf(exercise)]));
  }

  /** @returns {Map<string, OneMore>} */
  moreOf() {
    const names = Object.keys(this.opened.exercises).filter((name) => this.opened.exercises[name].drills);
    return new Map(names.map((name) => [name, this.moreLike(name)]));
  }

  // Where a lab is written anew one that is open stays so, also when its exercise comes back later.
  /** @param {string} exercise */
  moreLike(exercise) {
    const like = `${exercise} ${this.opened.exercises[exercise].same?.[DRILLS]}`;
    const more = this.everyMore.get(like) ?? new OneMore(exercise, (said) => this.say(said), moduleOf);
    this.everyMore.set(like, more);
    return more;
  }

  wayOf() {
    const stops = this.steps.map(({ exercise, part }) => ({ exercise, part, title: this.titleOf(exercise) }));
    return new Way(stops, (name) => this.go(name, true), this.opened.person !== undefined);
  }

  readingOf() {
    return new Reading(this.opened, matchMedia("(min-width: 1100px)").matches, this.drafts);
  }

  /** @param {string} exercise */
  modelOf(exercise) {
    const model = new ExerciseModel(exercise, this.opened.exercises[exercise].saved, this.drafts, (said) => this.say(said));
    model.turn = this.opened.turn;
    return model;
  }

  /**
   * The lab was written anew, or drawn anew: what is still the same stays as it is, with what was typed there.
   * @param {any} now
   * @returns {{ cleared: string[], closed: string[] }} the exercises whose answers are gone, and those whose
   *   drill is, since they are others now
   */
  anew(now) {
    const before = this.opened.exercises;
    const isSame = (name, which) => before[name]?.same[which] === now.exercises[name]?.same[which];
    this.remember();
    const other = this.otherThan(now.exercises);
    for (const name of Object.keys(before)) if (!isSame(name, ASKED)) this.laysBy(name, before[name].same[ASKED]);
    for (const name of Object.keys(now.exercises)) if (!isSame(name, ASKED)) this.takesUp(name, now.exercises[name].same[ASKED]);
    for (const more of this.more.values()) more.rests();
    const kept = new Map([...this.models].filter(([name]) => isSame(name, WHOLE)));
    for (const name of this.places.keys()) if (!kept.has(name)) this.places.delete(name);
    const stood = this.steps.findIndex(({ exercise }) => exercise === this.at);
    const open = this.reading.opened();
    const focused = this.stage.contains(document.activeElement);
    const way = this.way.node;
    const scrolled = way.scrollTop;
    this.opened = now;
    this.steps = now.sheet.steps;
    this.models = this.modelsOf(kept);
    this.more = this.moreOf();
    this.benches = new Benches(this.models, shownOf);
    this.way = this.wayOf();
    this.reading = this.readingOf();
    for (const name of this.places.keys()) this.benches.isShown(name, now.exercises[name].steps);
    this.reading.opens(open);
    document.title = now.sheet.title;
    document.querySelector(".pg-head h1")?.replaceChildren(now.sheet.title);
    way.replaceWith(this.way.node);
    this.way.node.scrollTop = scrolled;
    // The same place; of an exercise that is gone or has another id, the one that stands there now.
    const at = this.at === LAST || this.models.has(this.at) ? this.at : (this.steps[Math.max(stood, 0)]?.exercise ?? LAST);
    this.at = "";
    this.go(at).then(() => {
      if (focused && document.activeElement === document.body) this.stage.focus({ preventScroll: true });
    });
    return other;
  }

  // What was done at each exercise when it was last shown: a card may stand in its place for a while.
  remember() {
    for (const [name, { same }] of Object.entries(this.opened.exercises)) {
      if (!same[ASKED]) continue;
      const worked = this.hasDraft(name) || this.saved(name).answered;
      this.lastShown.set(name, { same, title: this.titleOf(name), worked, drawn: Boolean(this.more.get(name)?.drawn) });
    }
  }

  /** @param {any} exercises - as they are shown now */
  otherThan(exercises) {
    const isOther = ([name, { same }], which) => exercises[name]?.same[ASKED] !== "" && exercises[name]?.same[which] !== same[which];
    const others = [...this.lastShown];
    const cleared = others.filter((each) => each[1].worked && isOther(each, ASKED)).map(([, { title }]) => title);
    const closed = others.filter((each) => each[1].drawn && isOther(each, DRILLS)).map(([, { title }]) => title);
    for (const [name] of others) if (exercises[name]?.same[ASKED] !== "") this.lastShown.delete(name);
    return { cleared, closed };
  }

  // What is typed and not saved waits until the same is asked here again.
  /** @param {string} exercise @param {string} asked */
  laysBy(exercise, asked) {
    const [here, aside] = this.draftsOf(exercise, asked);
    const draft = here.read();
    if (draft) aside.write(draft);
    here.clear();
  }

  /** @param {string} exercise @param {string} asked */
  takesUp(exercise, asked) {
    const [here, aside] = this.draftsOf(exercise, asked);
    const draft = aside.read();
    if (draft) here.write(draft);
    aside.clear();
  }

  /** @param {string} exercise @param {string} asked */
  draftsOf(exercise, asked) {
    const name = `labkit:${this.drafts}:${exercise}`;
    return [draftStore(name), draftStore(`${name}:${asked}`)];
  }

  build() {
    const { sheet, trainee, class_title: title } = this.opened;
    tradeWords(sheet.words ?? {});
    document.title = sheet.title;
    this.who = element("p", { class: "pg-who", title }, trainee);
    document.body.replaceChildren(
      element("a", { class: "pg-skip", href: "#pg-stage" }, "To the question"),
      element("header", { class: "pg-head" }, element("h1", {}, sheet.title), this.who, this.other.node, this.time.node, this.ofHost.node, this.count, this.line),
      this.trainer.node,
      element("div", { class: "pg-desk" }, this.way.node, this.stage, this.beside),
      new Pad(this.drafts).node,
    );
    document.querySelector(".pg-skip")?.addEventListener("click", (event) => {
      event.preventDefault();
      this.stage.focus();
    });
    const watch = new MutationObserver(() => this.showStates());
    watch.observe(this.stage, { subtree: true, attributeFilter: ["data-state"] });
    this.holds(this.opened);
  }

  /** What the room says of this lab by now. @param {any} now */
  holds(now) {
    this.time.takes(now.clock);
    this.trainer.holds(now);
    this.handing.holds(now);
    this.ofHost.holds(now);
    this.together = now.together || "";
    this.who?.replaceChildren(now.trainee, ...(this.together ? [element("b", {}, ` · Together with ${this.together}`)] : []));
    this.shut = now.shut || "";
    this.released = Boolean(now.results);
    if (this.released) this.askForMarks();
    this.pauses(Boolean(now.paused));
    this.showStates();
  }

  // What was on its way when it was paused is sent again at once when it goes on.
  /** @param {boolean} paused */
  pauses(paused) {
    if (paused === this.paused) return;
    this.paused = paused;
    if (paused) {
      this.wasAt = this.stage.contains(document.activeElement) ? document.activeElement : null;
      for (const each of document.querySelectorAll("dialog")) each.close();
    }
    this.lock();
    if (paused) return;
    this.isBack();
    if (document.activeElement === document.body && this.wasAt instanceof HTMLElement) this.wasAt.focus({ preventScroll: true });
  }

  // It can be read, and what was typed stays.
  lock() {
    for (const each of this.stage.querySelectorAll(WORKED_AT)) if (each instanceof HTMLElement) each.inert = this.paused;
  }

  // Each time that there is news: what was marked by hand meanwhile comes with it.
  async askForMarks() {
    try {
      const answer = await fetch("marks");
      if (answer.ok) this.takesMarks(await answer.json());
      else this.sum.replaceChildren(element("p", { class: "pg-results" }, await answer.text()));
    } catch {
      // The host is away: it is asked again once it is back.
    }
  }

  /** @param {import("./own_results.js").Results} results */
  takesMarks(results) {
    const shown = JSON.stringify(results);
    if (shown === this.marksShown) return; // what was folded away stays so
    this.marksShown = shown;
    const ofThis = results.workbook === this.opened.workbook;
    this.marks = new Map(ofThis ? results.exercises.map((mark) => [mark.exercise, mark]) : []);
    this.sum.replaceChildren(sumBox(results, ofThis));
    this.way.callsLast("Your results");
    // Before handing in now; where it is there already, whoever is in it stays there.
    if (this.sum.nextElementSibling !== this.soFar.node) this.sum.after(this.soFar.node);
    for (const exercise of this.places.keys()) this.showMark(exercise);
    this.showStates();
  }

  /** @param {string} exercise */
  showMark(exercise) {
    const mark = this.marks.get(exercise);
    const place = this.places.get(exercise);
    place?.querySelector(".pg-result")?.remove();
    if (mark) place?.querySelector(".lk-question")?.after(resultBox(mark));
  }

  titleOf(exercise) {
    return this.opened.exercises[exercise].title;
  }

  saved(exercise) {
    return this.models.get(exercise)?.get("saved");
  }

  /** Whether something is typed there that is not saved yet. @param {string} exercise */
  hasDraft(exercise) {
    const frame = this.places.get(exercise)?.querySelector(".lk-exercise");
    if (frame instanceof HTMLElement) return NOT_SAVED.includes(frame.dataset.state ?? "");
    return draftStore(`labkit:${this.drafts}:${exercise}`).read() !== null;
  }

  // To what the address names, or else to this place; "#more:NAME" asks for one more like that exercise.
  /** @param {string} otherwise @param {boolean} [moved] - by the person */
  async follow(otherwise, moved = false) {
    const words = decodeURIComponent(location.hash.slice(1));
    const name = words.startsWith(MORE) ? words.slice(MORE.length) : words;
    await this.go(name === LAST || this.models.has(name) ? name : otherwise, moved);
    if (name !== words && !this.shut) this.more.get(name)?.begin();
  }

  firstOpen() {
    if (this.opened.results && this.opened.shut) return LAST;
    return this.steps.find(({ exercise }) => !this.saved(exercise).answered)?.exercise ?? LAST;
  }

  /** @param {string} name @param {boolean} [moved] - by the person: the focus goes along */
  async go(name, moved = false) {
    if (name === this.at) return;
    this.at = name;
    this.aloud.stop();
    const place = name === LAST ? this.lastPlace() : await this.placeOf(name);
    if (this.at !== name) return; // another one was asked for meanwhile
    const at = this.steps.findIndex((step) => step.exercise === name);
    const focused = document.activeElement;
    this.stage.replaceChildren(this.ofHost.place, ...place, this.onwards(at));
    if (focused instanceof HTMLElement && this.stage.contains(focused)) focused.focus({ preventScroll: true });
    this.lock();
    this.beside.replaceChildren(...(at < 0 ? this.reading.atTheEnd() : this.reading.of(at)));
    this.makeRoom();
    this.way.isAt(name);
    this.ofHost.isAt(name);
    history.replaceState(null, "", `#${name}`);
    if (!moved) return;
    scrollTo(0, 0);
    this.stage.focus({ preventScroll: true });
  }

  makeRoom() {
    const desk = this.stage.parentElement;
    desk?.classList.remove("pg-broad"); // measured as it is beside what is read
    // Who hosts may stand beside it too, which leaves no room for what is read.
    desk?.classList.toggle("pg-broad", desk.classList.contains("pg-shared") || needsRoom(this.stage));
  }

  /** @param {string} exercise */
  async placeOf(exercise) {
    const at = this.steps.findIndex((step) => step.exercise === exercise);
    const made = this.places.get(exercise) ?? (await this.render(exercise));
    const more = this.more.get(exercise);
    return [this.above(at), made, ...(more ? [more.node] : [])];
  }

  /** @param {string} exercise */
  async render(exercise) {
    const el = element("div", { class: "pg-place" });
    try {
      const [{ render }, shown] = await Promise.all([moduleOf(this.opened.exercises[exercise].kind), shownOf(exercise)]);
      if (!this.places.has(exercise)) {
        const { question } = this.steps.find((step) => step.exercise === exercise) ?? {};
        this.models.get(exercise)?.shows({ ...shown, view: { ...shown.view, hands: shown.hands }, question });
        this.benches.isShown(exercise, shown.steps);
        render({ model: this.models.get(exercise), el });
        this.places.set(exercise, el);
        this.showMark(exercise);
      }
      return this.places.get(exercise) ?? el;
    } catch {
      el.append(element("p", { class: "pg-told", role: "alert" }, "This exercise did not come."));
      el.append(button("Try again", () => this.again(exercise), { class: "pg-button" }));
      return el;
    }
  }

  /** @param {string} exercise */
  again(exercise) {
    this.at = "";
    this.go(exercise, true);
  }

  /** @param {number} at */
  above(at) {
    const line = element("div", { class: "pg-above" });
    const part = this.steps.slice(0, at + 1).findLast((step) => step.part)?.part ?? "Exercises";
    line.append(element("h2", { class: "pg-spoken" }, part));
    if (this.reading.hasCaution(at)) line.append(this.toTheCaution());
    line.append(this.aloud.node);
    return line;
  }

  // On a narrow page the caution stands under the question: this leads there.
  toTheCaution() {
    const caution = () => this.beside.querySelector(".pg-caution");
    const press = button("⚠ Caution first", go, { class: "pg-button pg-to-caution" });
    function go() {
      const found = caution();
      if (!(found instanceof HTMLElement)) return;
      found.tabIndex = -1;
      found.focus();
    }
    return press;
  }

  lastPlace() {
    this.showStates();
    const { sum, soFar, handing } = this;
    return this.released ? [sum, soFar.node, handing.node] : [sum, handing.node, soFar.node];
  }

  /** How an exercise went, for the last place. @param {{ exercise: string, number: number, title: string }} which */
  went(which) {
    const saved = this.saved(which.exercise);
    const mark = this.marks.get(which.exercise);
    const state = stateOf(saved, mark);
    const { tries, hints } = saved.verdict?.tries ? { tries: saved.verdict.tries, hints: saved.hints.length } : (mark ?? {});
    const words = [mark ? earnedWords(mark) : "", howWords(state, tries ?? 1, hints ?? 0)].filter(Boolean).join(" · ");
    const offered = this.more.has(which.exercise) && saved.verdict && !this.shut;
    return { ...which, state, words, oneMore: offered ? () => this.oneMore(which.exercise) : null };
  }

  /** @param {string} exercise */
  async oneMore(exercise) {
    await this.go(exercise, true);
    this.more.get(exercise)?.begin();
  }

  /** @param {number} at */
  onwards(at) {
    const order = [...this.steps.map(({ exercise }) => exercise), LAST];
    const here = at < 0 ? order.length - 1 : at;
    const ways = element("div", { class: "pg-onwards" });
    if (here > 0) ways.append(button("← Before", () => this.go(order[here - 1], true), { class: "pg-button" }));
    if (here + 1 < order.length) {
      const words = order[here + 1] === LAST ? `${this.way.last} →` : "Next →";
      ways.append(button(words, () => this.go(order[here + 1], true), { class: "pg-button pg-forward" }));
    }
    return ways;
  }

  spoken() {
    const parts = this.stage.querySelectorAll(".lk-header h3, .lk-question, .pg-results p, .pg-handing-in p, .pg-so-far li");
    return [...parts].map(wordsOf).join(". ");
  }

  /** @param {import("./link.js").Heard} heard */
  heard({ exercise, turn, saved, steps = 0, by, reply }) {
    if (!exercise) return;
    if (by) this.other.did(by, exercise, this.saved(exercise), saved, steps > this.benches.known(exercise));
    const forMore = reply && this.more.get(exercise)?.takes(reply, turn);
    if (reply?.reply && this.together) reply.reply.hand = this.opened.trainee;
    this.models.get(exercise)?.takes({ turn, saved, reply: forMore ? undefined : reply });
    this.benches.hears(exercise, steps, reply !== undefined);
    if (saved) this.isThere();
  }

  isBack() {
    for (const model of this.models.values()) model.tell("back");
    for (const more of this.more.values()) more.isBack();
  }

  // The workbook's number goes along: after a change of seats this page may show another one.
  say(said) {
    this.link.say({ ...said, workbook: this.opened.workbook });
  }

  /** @param {any} [now] - the workbook, with what was saved in another window */
  isThere(now) {
    this.away = "";
    // Another workbook is worked at here now: after a retake, or together with somebody, or no more so.
    if (now && now.workbook !== this.opened.workbook) return location.reload();
    if (now) {
      if (now.edition !== this.opened.edition) Object.assign(now, this.anew(now));
      for (const [name, { saved, steps }] of Object.entries(now.exercises)) {
        this.models.get(name)?.takes({ turn: now.turn, saved });
        this.benches.hears(name, steps, false);
      }
      this.holds(now);
    } else this.showStates();
  }

  // Somebody else sits here now, or this person on another device: nothing can be saved from here.
  /** @param {string} words */
  refused(words) {
    if (this.away === words) return;
    this.tell(words);
    this.line.append(" ", element("a", { href: "/" }, "To the first page"));
  }

  /** What the page as a whole has to say. @param {string} words */
  tell(words) {
    this.away = words;
    this.showStates();
  }

  showStates() {
    const all = this.steps.map(({ exercise }, index) => ({ exercise, number: index + 1, title: this.titleOf(exercise) }));
    const unsaved = all.filter(({ exercise }) => this.hasDraft(exercise));
    const open = all.filter(({ exercise }) => !this.saved(exercise).answered);
    this.way.show((exercise) => ({
      saved: this.saved(exercise),
      draft: unsaved.some((each) => each.exercise === exercise),
      mark: this.marks.get(exercise) ?? null,
    }));
    this.handing.lists(open, unsaved);
    this.soFar.shows(all.map((each) => this.went(each)));
    for (const [name, more] of this.more) more.shows(this.saved(name));
    this.count.textContent = `${all.length - open.length} of ${all.length} saved`;
    const waiting = unsaved.length ? `Not saved yet: ${unsaved.map(({ number }) => number).join(", ")}` : "";
    const results = this.released ? "Your results are released." : "";
    const words = this.away || [this.paused ? "" : this.shut, results, waiting].filter(Boolean).join(" · ");
    if (this.said !== words) this.line.textContent = words;
    this.said = words;
    this.line.classList.toggle("pg-away", Boolean(this.away));
  }
}

// The workbook, or why there is none: words, and whether that may change.
async function opened() {
  try {
    const answer = await fetch("desk", { signal: AbortSignal.timeout(LONG_MS) });
    if (answer.ok) return { workbook: await answer.json() };
    const told = answer.status < 500 || answer.status === IN_TROUBLE;
    return { words: told ? await answer.text() : NOT_YET, again: answer.status >= 500 };
  } catch {
    return { words: NOT_YET, again: true };
  }
}

async function begin() {
  const { workbook, words = "", again } = await opened();
  if (workbook) return new Page(workbook);
  document.body.replaceChildren(element("main", { class: "pg-alone" }, element("p", { role: "status" }, words)));
  if (again) setTimeout(begin, BEGIN_AGAIN_MS);
}

begin();
