// A workbook on a page: one exercise in focus, the others one press away, what is read for it beside it.

import { button, element } from "./elements.js";
import { link } from "./link.js";

/** @typedef {{ heading: string, html: string }} Folded */
/** @typedef {{ exercise: string, part: string, texts: Folded[], cautions: string[] }} Step */

const STATES = {
  open: { sign: "", words: "open" },
  saved: { sign: "✓", words: "saved" },
  right: { sign: "✓", words: "right" },
  partly: { sign: "◐", words: "partly right" },
  wrong: { sign: "✗", words: "not right yet" },
  unreadable: { sign: "?", words: "cannot be read" },
  awaits: { sign: "…", words: "waits for your instructor" },
};

/** @param {any} saved */
function stateOf(saved) {
  const { answered, verdict } = saved;
  if (!answered) return "open";
  if (!verdict) return "saved";
  if (!verdict.readable) return "unreadable";
  if (verdict.awaits) return "awaits";
  if (verdict.right) return "right";
  return verdict.credit > 0 ? "partly" : "wrong";
}

// What a page module takes for its host: state by name, messages both ways.
class Model {
  constructor(name, state, say) {
    this.name = name;
    this.state = state;
    this.say = say;
    this.listeners = new Map();
  }

  get(name) {
    return this.state[name];
  }

  on(event, heard) {
    this.listeners.set(event, [...(this.listeners.get(event) ?? []), heard]);
  }

  off(event, heard) {
    this.listeners.set(
      event,
      (this.listeners.get(event) ?? []).filter((each) => each !== heard),
    );
  }

  send(message) {
    this.say({ exercise: this.name, message });
  }

  tell(event, ...args) {
    for (const each of this.listeners.get(event) ?? []) each(...args);
  }

  takes(saved, reply) {
    if (JSON.stringify(saved) !== JSON.stringify(this.state.saved)) {
      this.state.saved = saved;
      this.tell("change:saved");
    }
    if (reply) this.tell("msg:custom", reply);
  }
}

const sheetsOf = new Map();

/** A kind's page module, its sheet in the page. @param {string} kind */
async function moduleOf(kind) {
  if (!sheetsOf.has(kind)) {
    const sheet = element("link", { rel: "stylesheet", href: `kinds/${kind}.css` });
    sheetsOf.set(kind, new Promise((done) => sheet.addEventListener("load", done, { once: true })));
    document.head.append(sheet);
  }
  await sheetsOf.get(kind);
  return (await import(new URL(`kinds/${kind}.js`, document.baseURI).href)).default;
}

/** @param {string} text */
function html(text, attributes = {}) {
  const node = element("div", attributes);
  node.innerHTML = text;
  return node;
}

class Page {
  constructor(opened) {
    this.opened = opened;
    this.steps = opened.sheet.steps;
    this.models = new Map();
    this.places = new Map();
    for (const [name, { shown, saved }] of Object.entries(opened.exercises)) {
      const state = { shown, saved, workbook: opened.workbook };
      this.models.set(name, new Model(name, state, (said) => this.link.say(said)));
    }
    this.build();
    this.link = link({
      heard: ({ exercise, saved, reply }) => {
        this.models.get(exercise)?.takes(saved, reply);
        this.showStates();
      },
      there: (is) => this.isThere(is),
      refused: (words) => this.line.replaceChildren(words),
    });
    this.go(this.firstOpen());
    addEventListener("hashchange", () => this.go(this.named() ?? this.at));
  }

  build() {
    const { sheet, trainee, class_title: title } = this.opened;
    this.line = element("p", { class: "pg-line", role: "status" });
    this.list = element("ol", { class: "pg-list" });
    for (const [index, step] of this.steps.entries()) {
      const { shown } = this.opened.exercises[step.exercise];
      if (step.part) this.list.append(element("li", { class: "pg-part" }, step.part));
      const way = element("a", { href: `#${step.exercise}` });
      way.append(
        element("span", { class: "pg-number" }, String(index + 1)),
        element("span", { class: "pg-title" }, shown.title),
        element("span", { class: "pg-state" }),
      );
      this.list.append(element("li", { "data-exercise": step.exercise }, way));
    }
    this.stage = element("main", { class: "pg-stage", tabindex: -1 });
    this.beside = element("aside", { class: "pg-beside", "aria-label": "What you need for it" });
    document.title = sheet.title;
    document.body.replaceChildren(
      element(
        "header",
        { class: "pg-head" },
        element("h1", {}, sheet.title),
        element("p", {}, `${trainee} · ${title}`),
        this.line,
      ),
      element(
        "div",
        { class: "pg-desk" },
        element("nav", { class: "pg-way", "aria-label": "Exercises" }, this.list),
        this.stage,
        this.beside,
      ),
    );
    this.showStates();
  }

  items() {
    return this.list.querySelectorAll("li[data-exercise]");
  }

  named() {
    const name = decodeURIComponent(location.hash.slice(1));
    const at = this.steps.findIndex((step) => step.exercise === name);
    return at < 0 ? null : at;
  }

  firstOpen() {
    const open = this.steps.findIndex((step) => !this.models.get(step.exercise).get("saved").answered);
    return this.named() ?? Math.max(open, 0);
  }

  async go(at) {
    if (at === this.at) return;
    this.at = at;
    const { exercise } = this.steps[at];
    if (!this.places.has(exercise)) this.places.set(exercise, await this.place(at));
    if (this.at !== at) return; // another one was asked for meanwhile
    this.stage.replaceChildren(this.places.get(exercise), this.onwards(at));
    this.beside.replaceChildren(...this.read(at));
    for (const item of this.items()) {
      const here = item.dataset.exercise === exercise;
      item.firstChild.toggleAttribute("aria-current", here);
    }
    history.replaceState(null, "", `#${exercise}`);
  }

  async place(at) {
    const { exercise, cautions } = this.steps[at];
    const node = element("div", { class: "pg-place" });
    for (const text of cautions) node.append(html(text, { class: "pg-caution", role: "note" }));
    const el = element("div");
    node.append(el);
    const { kind } = this.opened.exercises[exercise];
    (await moduleOf(kind)).render({ model: this.models.get(exercise), el });
    return node;
  }

  onwards(at) {
    const go = (by) => () => {
      this.go(at + by);
      this.stage.focus();
    };
    const ways = element("div", { class: "pg-onwards" });
    if (at > 0) ways.append(button("← Before", go(-1)));
    if (at + 1 < this.steps.length) ways.append(button("Next →", go(1)));
    return ways;
  }

  // All that was to be read up to here, the newest open; the network stays beside the question.
  read(at) {
    const found = [];
    if (this.opened.picture) {
      const picture = html(this.opened.picture, { class: "pg-picture" });
      found.push(element("details", { open: true }, element("summary", {}, "Your network"), picture));
    }
    for (let step = at; step >= 0; step -= 1) {
      for (const { heading, html: text } of this.steps[step].texts) {
        found.push(element("details", {}, element("summary", {}, heading || "Read first"), html(text)));
      }
    }
    return found;
  }

  showStates() {
    let answered = 0;
    for (const item of this.items()) {
      const saved = this.models.get(item.dataset.exercise).get("saved");
      const state = stateOf(saved);
      answered += saved.answered;
      item.dataset.state = state;
      const { sign, words } = STATES[state];
      item.querySelector(".pg-state").replaceChildren(
        element("span", { "aria-hidden": "true" }, sign),
        element("span", { class: "pg-spoken" }, words),
      );
    }
    if (this.there !== false) this.line.textContent = `${answered} of ${this.steps.length} answered`;
  }

  async isThere(is) {
    const back = is && this.there === false;
    this.there = is;
    this.line.classList.toggle("pg-away", !is);
    if (!is) {
      this.line.textContent = "Your instructor's machine does not answer. What you type is kept on this page.";
      return;
    }
    this.showStates();
    if (back) this.catchUp();
  }

  // What was saved in another window while this page was away.
  async catchUp() {
    const answer = await fetch("desk");
    if (!answer.ok) return;
    const { exercises } = await answer.json();
    for (const [name, { saved }] of Object.entries(exercises)) this.models.get(name)?.takes(saved);
    this.showStates();
  }
}

async function begin() {
  const answer = await fetch("desk");
  if (!answer.ok) {
    document.body.replaceChildren(element("p", { class: "pg-alone" }, await answer.text()));
    return;
  }
  new Page(await answer.json());
}

begin();
