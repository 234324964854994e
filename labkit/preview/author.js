// What an author has on the page: the draw and its views in the head; what is wrong beside the lab, on a narrow
// page under the head, and at the exercise that is in focus.

import { button, element } from "./elements.js";
import { problemBox } from "./problem_box.js";

const SHEETS = ["preview/author.css", "preview/problem_box.css"];
const WEIGHTS = [
  { severity: "must be mended", sign: "✗", words: "to be mended" },
  { severity: "look at it", sign: "?", words: "to look at" },
];
const WIDE = matchMedia("(min-width: 1200px)"); // as in author.css: the list has a column of its own
const NOT_REACHED = "labkit does not answer: look into its window.";

/** @typedef {import("./problem_box.js").Wrong} Wrong */

/** @param {string} words @param {string} key */
function withKey(words, key) {
  return element("span", {}, words, " ", element("kbd", { class: "pv-key" }, `Alt+${key}`));
}

/** @param {string} words @param {string} path @param {string} key */
function pageLink(words, path, key) {
  return element(
    "a",
    { class: "pv-button", href: path, target: "_blank", rel: "noopener", "aria-keyshortcuts": `Alt+${key}` },
    withKey(words, key),
  );
}

/** @param {string} sign */
function spokenNot(sign) {
  return element("span", { "aria-hidden": "true" }, sign);
}

/** @param {string} words */
function asBeginning(words) {
  return words.slice(0, 1).toUpperCase() + words.slice(1);
}

class Author {
  constructor() {
    for (const href of SHEETS) document.head.append(element("link", { rel: "stylesheet", href }));
    this.at = "";
    /** @type {any} */
    this.now = null;
    this.cards = new Set();
    this.titles = new Map();
    this.problemsShown = "";
    /** Exercises whose answers, or whose drills, are gone with the last save. @type {string[]} */
    this.cleared = [];
    /** @type {string[]} */
    this.closed = [];
    this.seed = element("b", { class: "pv-seed" });
    this.another = this.press("Another draw", "N", () => this.choose({ draw: "another" }));
    this.before = this.press("The one before", "B", () => this.choose({ draw: "before" }));
    this.view = this.press("", "V", () => this.choose({ practice: !this.now?.practice }));
    this.solutions = pageLink("With solutions", "solutions", "K");
    this.paper = pageLink("On paper", "paper", "O");
    this.wrong = this.press("", "L", () => this.turnList());
    this.wrong.setAttribute("aria-controls", "pv-list");
    this.state = element("p", { class: "pv-state", role: "status" });
    this.proof = element("p", { class: "pv-proof" });
    this.list = element("section", { class: "pv-list", id: "pv-list", "aria-label": "What is wrong", hidden: true, tabindex: -1 });
    this.list.addEventListener("keydown", (event) => {
      if (event.key === "Escape") this.leaveList();
    });
    WIDE.addEventListener("change", () => this.shareRoom());
    addEventListener("labkit-form", () => this.shareRoom());
    this.node = element(
      "div",
      { class: "pv-bar" },
      element(
        "div",
        { class: "pv-tools", role: "group", "aria-label": "For the author" },
        element("span", {}, "Draw ", this.seed),
        ...[this.another, this.before, this.view, this.solutions, this.paper, this.wrong],
      ),
      this.state,
      this.proof,
    );
    this.place = element("div", { class: "pv-place" });
    this.keys = { KeyN: this.another, KeyB: this.before, KeyV: this.view, KeyK: this.solutions, KeyO: this.paper, KeyL: this.wrong };
    // Before the exercises hear it: they keep what is typed in an answer to themselves.
    addEventListener("keydown", (event) => this.typed(event), { capture: true });
  }

  /** @param {string} words @param {string} key @param {() => void} act */
  press(words, key, act) {
    return button(withKey(words, key), act, { class: "pv-button", "aria-keyshortcuts": `Alt+${key}` });
  }

  /** @param {KeyboardEvent} event */
  typed(event) {
    if (!event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const pressed = this.keys[event.code];
    if (!pressed) return;
    event.preventDefault();
    if (pressed === this.wrong) this.turnListByKey();
    else pressed.click();
  }

  turnList() {
    this.unfold(this.list.hidden);
    this.byHand = !this.list.hidden;
  }

  // By the key from wherever one is: the focus goes into the list, and back to where it was.
  turnListByKey() {
    if (this.list.contains(document.activeElement)) {
      this.leaveList();
      return;
    }
    this.cameFrom = document.activeElement;
    if (this.list.hidden) this.turnList();
    this.list.focus();
  }

  leaveList() {
    this.turnList();
    const back = this.cameFrom instanceof HTMLElement && this.cameFrom.isConnected ? this.cameFrom : this.wrong;
    back.focus();
  }

  /** @param {object} what */
  async choose(what) {
    try {
      const answer = await fetch("choose", { method: "POST", body: JSON.stringify(what) });
      if (!answer.ok) this.state.textContent = await answer.text();
    } catch {
      this.state.textContent = NOT_REACHED;
    }
  }

  /** @param {any} now - what the host says */
  holds({ preview, exercises, sheet, cleared, closed }) {
    if (!this.list.isConnected) document.querySelector(".pg-desk")?.before(this.list);
    this.now = preview;
    this.cards = new Set(Object.keys(exercises).filter((name) => exercises[name].kind === "card"));
    this.titles = new Map(sheet.steps.map(({ exercise }, at) => [exercise, `${at + 1}. ${exercises[exercise].title}`]));
    if (cleared) Object.assign(this, { cleared, closed });
    this.seed.textContent = preview.seed;
    this.before.disabled = !preview.earlier;
    this.view.firstChild?.replaceWith(withKey(preview.practice ? "See it as assessed" : "See it as practice", "V"));
    for (const link of [this.solutions, this.paper]) link.hidden = !preview.drawn;
    this.tellState();
    this.tellProof();
    this.showList();
    this.showMarks();
    this.isAt(this.at);
  }

  tellState() {
    const { saved, shown, old, drawn, practice } = this.now;
    const view = practice ? "as a practice class gets it" : "as an assessed class gets it";
    const words = [`Text saved at ${shown}, ${view}.`];
    if (old) words[0] = `⚠ Old: what you see is of ${shown}. The text saved at ${saved} cannot be drawn, see what is wrong.`;
    if (!drawn) words[0] = "⚠ Nothing can be drawn yet: see what is wrong.";
    const broken = this.now.problems.length;
    if (broken && !old && drawn) words.push(`${broken} to be mended, see what is wrong.`);
    if (this.cleared.length) words.push(`Answers cleared, since something else is asked: ${this.cleared.join(", ")}.`);
    if (this.closed.length) words.push(`"One more like this" closed, since the exercise is another one now: ${this.closed.join(", ")}.`);
    this.state.classList.toggle("pv-old", old);
    document.querySelector(".pg-desk")?.classList.toggle("pv-of-old", old && drawn);
    const told = words.join(" ");
    if (this.state.textContent !== told) this.state.textContent = told;
  }

  tellProof() {
    const { state, done, draws, saved } = this.now.proof;
    const before = saved ? ` Findings below are of ${draws} draws, of the text saved at ${saved}.` : "";
    this.proof.textContent = {
      waits: `Quick proof: waits until all can be read.${before}`,
      begun: `Quick proof: ${done} of ${draws} draws.${before}`,
      done: `Quick proof: ${draws} draws, of the text saved at ${saved}.`,
      ended: `Quick proof: it ended early. 'labkit proof' says why.${before}`,
    }[state];
  }

  /** @returns {Wrong[]} */
  get all() {
    const { problems, proof } = this.now;
    if (proof.state === "done") return [...problems, ...proof.findings];
    const older = proof.findings.map((each) => ({ ...each, where: `${each.where}, as saved at ${proof.saved}` }));
    return [...problems, ...older];
  }

  showList() {
    const counts = WEIGHTS.map(({ severity, words, sign }) => {
      const many = this.all.filter((each) => each.severity === severity).length;
      return many ? `${sign} ${many} ${words}` : "";
    }).filter(Boolean);
    this.wrong.firstChild?.replaceWith(withKey(counts.join(", ") || "✓ Nothing found", "L"));
    this.wrong.dataset.severity = this.all.some((each) => each.severity === WEIGHTS[0].severity) ? "must be mended" : "";
    const { problems, proof } = this.now;
    const shown = JSON.stringify([this.all, proof.accepted]);
    if (shown === this.listShown) return; // what was unfolded stays so
    this.listShown = shown;
    const notes = this.all.filter(({ severity }) => severity === "note");
    const focused = this.list.contains(document.activeElement);
    this.list.replaceChildren(
      ...WEIGHTS.flatMap(({ severity, sign, words }) => this.group([spokenNot(sign), ` ${asBeginning(words)}`], this.all.filter((each) => each.severity === severity))),
      ...this.foldedGroup("Notes", notes),
      ...this.foldedGroup("Accepted", proof.accepted),
    );
    if (!this.list.childElementCount) this.list.append(element("p", {}, "Nothing was found so far."));
    if (focused) this.list.focus({ preventScroll: true });
    // What cannot be read unfolds itself, once; what proof finds waits until somebody looks. On a narrow page it
    // is enough that the card in focus tells it.
    const known = JSON.stringify(problems);
    const told = problems.some(({ exercise }) => WIDE.matches || exercise !== this.at || !this.cards.has(exercise));
    if (known !== this.problemsShown) this.unfold(told || Boolean(this.byHand));
    this.problemsShown = known;
  }

  /** @param {boolean} open */
  unfold(open) {
    this.list.hidden = !open;
    this.wrong.setAttribute("aria-expanded", String(open));
    this.shareRoom();
  }

  // The page has less room beside the list: what is read then stands under the question.
  shareRoom() {
    const besideIt = !this.list.hidden || document.querySelector("body > .pf-form:not([hidden])");
    document.querySelector(".pg-desk")?.classList.toggle("pg-shared", WIDE.matches && Boolean(besideIt));
    dispatchEvent(new Event("resize"));
  }

  /** @param {(string | Node)[]} title @param {Wrong[]} wrongs */
  group(title, wrongs) {
    return wrongs.length ? [element("h2", {}, ...title, ` (${wrongs.length})`), this.items(wrongs)] : [];
  }

  /** @param {Wrong[]} wrongs */
  items(wrongs) {
    return element("ul", { class: "pv-items" }, ...wrongs.map((each) => element("li", {}, this.item(each))));
  }

  /** @param {string} title @param {Wrong[]} wrongs */
  foldedGroup(title, wrongs) {
    if (!wrongs.length) return [];
    const summary = element("summary", {}, `${title} (${wrongs.length})`);
    return [element("details", {}, summary, this.items(wrongs))];
  }

  /** @param {Wrong} wrong @param {boolean} [here] - it stands at its exercise already */
  item(wrong, here = false) {
    const box = problemBox(wrong);
    const presses = element("p", { class: "pv-presses" });
    const { exercise, seed } = wrong;
    if (!here && this.titles.has(exercise)) {
      presses.append(element("a", { href: `#${exercise}` }, `To exercise ${this.titles.get(exercise)}`));
    }
    if (seed && seed !== this.now.seed) presses.append(button(`See draw ${seed}`, () => this.choose({ seed }), { class: "pv-link" }));
    if (presses.childElementCount) box.append(presses);
    return box;
  }

  // A sign at each exercise in the list of them that has something to mend or to look at.
  showMarks() {
    for (const node of document.querySelectorAll("[data-place]")) {
      const name = node instanceof HTMLElement ? node.dataset.place : "";
      const here = this.all.filter(({ exercise }) => exercise === name);
      const found = WEIGHTS.find(({ severity }) => here.some((each) => each.severity === severity));
      node.querySelector(".pv-mark")?.remove();
      if (!found) continue;
      const mark = element("span", { class: "pv-mark", "data-severity": found.severity });
      mark.append(spokenNot(found.sign), element("span", { class: "pg-spoken" }, `, ${found.words}`));
      node.querySelector(".pg-title")?.append(mark);
    }
  }

  /** @param {string} name - the exercise in focus */
  isAt(name) {
    this.at = name;
    if (!this.now) return;
    const here = this.cards.has(name) ? [] : this.all.filter(({ exercise }) => exercise === name);
    const seen = JSON.stringify([name, here, this.now.seed]);
    if (seen === this.placeShown) return;
    this.placeShown = seen;
    const loud = here.filter(({ severity }) => severity !== "note");
    const open = this.place.firstElementChild instanceof HTMLDetailsElement && this.place.firstElementChild.open;
    this.place.replaceChildren();
    if (!here.length) return;
    const words = loud.length ? `For the author: ${loud.length} found here` : `For the author: ${here.length} noted here`;
    this.place.append(
      element("details", { class: "pv-here", open }, element("summary", {}, words), ...here.map((each) => this.item(each, true))),
    );
  }
}

export function begin() {
  return new Author();
}
