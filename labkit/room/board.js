// The board: a row for each of the class, and above them who needs the trainer, and why.

import { clock } from "./asking.js";
import { button, element } from "./elements.js";
import { Each, Fresh, say } from "./kept.js";
import { minutes } from "./lab_cards.js";

const COLUMNS = ["Who", "Exercise", "Last entry", "Tries", "Right", "Saved", "Now"];

/** @param {string} now @param {string} at */
function minutesSince(now, at) {
  return Math.max(0, Math.floor((Date.parse(now) - Date.parse(at)) / 60000));
}

/** @param {string} now @param {string} at */
function ago(now, at) {
  const past = minutesSince(now, at);
  if (past < 1) return "just now";
  return past < 60 ? `${past} min` : `${Math.floor(past / 60)} h ${past % 60} min`;
}

/** @param {number | null} share */
function percent(share) {
  return share === null ? "" : `${Math.round(100 * share)} %`;
}

/** Why somebody needs the trainer, as a sentence would go on after their name. @param {any} need @param {string} now */
function reasons(need, now) {
  const hand = need.hand && `hand up ${minutesSince(now, need.hand.at) < 1 ? "just now" : `for ${ago(now, need.hand.at)}`}`;
  const words = hand && (need.hand.words ? `${hand}: “${need.hand.words}”` : hand);
  return [words, ...need.why].filter(Boolean).join("; ");
}

class Need {
  /** @param {any} need @param {(what: object) => Promise<void>} act @param {(trainee: string) => void} goTo */
  constructor({ trainee }, act, goTo) {
    this.name = button("", () => goTo(trainee), { class: "rm-link bd-name" });
    this.why = element("span");
    this.seen = button("Seen to", () => act({ act: "hand seen to", trainee }), { class: "rm-button rm-small" });
    this.nodes = [element("li", {}, this.name, this.why, this.seen)];
  }

  /** @param {any} need @param {string} name @param {string} lab @param {string} now */
  shows(need, name, lab, now) {
    say(this.name, name);
    say(this.why, [reasons(need, now), lab].filter(Boolean).join(" · "));
    this.seen.hidden = !need.hand;
    this.seen.setAttribute("aria-label", `Seen to: ${name}`);
  }
}

/** What is done for one person: a line for each lab, their code. */
class More {
  /** @param {any} person @param {(what: object) => Promise<void>} act */
  constructor(person, act) {
    this.person = person.id;
    this.act = act;
    this.codeShown = false;
    this.fresh = new Fresh(element("td", { colspan: COLUMNS.length, role: "cell" }), (lines) => this.made(lines));
    this.node = element("tr", { class: "bd-more", hidden: true, role: "row" }, this.fresh.node);
  }

  /** @param {any} person @param {any[]} labs @param {Record<string, any>} at @param {string} now */
  shows(person, labs, at, now) {
    this.code = person.code;
    if (this.node.hidden) return;
    const dealt = labs.filter(({ id }) => person.labs[id]);
    const lines = dealt.map((lab) => ({
      id: lab.id,
      title: lab.title,
      words: workWords(person.labs[lab.id], at[lab.id], lab, now).join(" · ") || "not begun",
      ends: Boolean(lab.ends),
    }));
    this.fresh.shows(lines, this.code);
  }

  // Hidden until it is asked for: the page may stand on a wall.
  codeOf() {
    if (!this.code) return element("span", { class: "rm-quiet" }, "no code: let in by name");
    const shown = () => element("span", { class: "rm-code" }, this.code);
    if (this.codeShown) return shown();
    const press = button("Show the code", () => {
      this.codeShown = true;
      press.replaceWith(shown());
    }, { class: "rm-link" });
    return press;
  }

  made(lines) {
    const each = lines.map(({ id, title, words, ends }) =>
      element(
        "li",
        {},
        element("b", {}, title),
        ` ${words} `,
        ...(ends ? [minutes("Give time …", (n) => this.act({ act: "give time", lab: id, trainee: this.person, minutes: n }))] : []),
      ),
    );
    return [element("ul", {}, ...each, element("li", {}, this.codeOf()))];
  }
}

function workWords({ answered, of, receipt, ends, together }, at, lab, now) {
  const words = [];
  if (of) words.push(`${answered} of ${of} saved`);
  if (at?.right != null) words.push(`${percent(at.right)} right`);
  if (at?.last) words.push(`last entry ${ago(now, at.last)}${minutesSince(now, at.last) < 1 ? "" : " ago"}`);
  if (receipt) words.push(`handed in ${receipt}`);
  if (ends && ends !== lab.ends && !lab.paused) words.push(`until ${clock(ends)}`);
  if (together) words.push(`together with ${together}`);
  return words;
}

class Row {
  /** @param {any} person @param {(what: object) => Promise<void>} act */
  constructor(person, act) {
    this.name = button("", () => this.unfolds(), { class: "rm-link bd-name", "aria-expanded": "false" });
    const who = element("th", { scope: "row", role: "rowheader" }, this.name);
    const cells = COLUMNS.slice(1).map((words) => element("td", { role: "cell", "data-column": words }));
    const [exercise, last, tries, right, saved, words] = cells;
    this.exercise = exercise;
    this.last = last;
    this.tries = tries;
    this.right = right;
    this.saved = saved;
    this.words = words;
    this.more = new More(person, act);
    this.row = element("tr", { class: "bd-row", role: "row" }, who, ...cells);
    this.nodes = [this.row, this.more.node];
    /** @type {() => void} */
    this.again = () => undefined;
  }

  unfolds(open = this.more.node.hidden) {
    this.more.node.hidden = !open;
    this.name.setAttribute("aria-expanded", String(open));
    this.again();
  }

  /** @param {any} person @param {any} room @param {any} need @param {string} most - the lab at which most are */
  shows(person, room, need, most) {
    const { board, labs, now } = room;
    const at = board.people[person.id] ?? {};
    const lab = labs.find(({ id }) => id === board.at_lab[person.id]);
    const work = lab && person.labs[lab.id];
    const there = (lab && at[lab.id]) ?? {};
    const title = lab && lab.id !== most ? [there.exercise, lab.title].filter(Boolean).join(" · ") : (there.exercise ?? "");
    say(this.name, person.name);
    say(this.exercise, title);
    this.exercise.title = title;
    say(this.last, there.last ? ago(now, there.last) : "");
    say(this.tries, there.exercise ? String(there.tries) : "");
    say(this.right, percent(there.right ?? null));
    say(this.saved, work?.of ? `${work.answered} of ${work.of}` : "");
    const words = this.now(person, work, there, need);
    say(this.words, words);
    this.words.title = words;
    this.row.classList.toggle("bd-needs", Boolean(need));
    this.row.classList.toggle("bd-absent", !isHere(person));
    this.again = () => this.more.shows(person, labs, at, now);
    this.again();
  }

  now(person, work, there, need) {
    const words = [need?.hand ? "hand up" : "", need?.why.length ? "stuck" : ""].filter(Boolean);
    if (there.away && !isHere(person)) words.push(`away for ${there.away}`);
    else if (!isHere(person)) words.push("not here");
    if (work?.receipt) words.push(`handed in ${work.receipt}`);
    if (work?.together) words.push(`together with ${work.together}`);
    return words.join(" · ");
  }
}

/** The lab at which most are. @param {any} room */
function labOfMost({ labs, board }) {
  const at = Object.values(board.at_lab);
  const count = ({ id }) => at.filter((lab) => lab === id).length;
  return labs.reduce((most, lab) => (count(lab) > count(most) ? lab : most), labs[0]);
}

/** @param {any} person */
export function isHere(person) {
  return Object.values(person.labs).some((work) => work.pages);
}

export class Board {
  /** @param {(what: object) => Promise<void>} act */
  constructor(act) {
    this.needs = new Each(element("ul", { class: "bd-list" }), (need) => new Need(need, act, (trainee) => this.goTo(trainee)));
    this.lead = element("h2", { id: "bd-needs" });
    this.rows = new Each(element("tbody", { role: "rowgroup" }), (person) => new Row(person, act));
    const heads = COLUMNS.map((words) => element("th", { scope: "col", role: "columnheader" }, words));
    this.atHead = heads[COLUMNS.indexOf("Exercise")];
    this.node = element(
      "div",
      {},
      element("section", { class: "bd-gathered", "aria-labelledby": this.lead.id }, this.lead, this.needs.node),
      element(
        "table",
        { class: "bd-people", role: "table", "aria-label": "Everybody of the class" },
        element("thead", { role: "rowgroup" }, element("tr", { role: "row" }, ...heads)),
        this.rows.node,
      ),
    );
  }

  /** @param {any} room */
  shows(room) {
    const { people, labs, board, now } = room;
    const byId = new Map(people.map((person) => [person.id, person]));
    const needs = new Map(board.needs.map((need) => [need.trainee, need]));
    const most = labOfMost(room);
    say(this.atHead, labs.length > 1 ? `Exercise of ${most.title}` : "Exercise");
    say(this.lead, needs.size ? "Needs you" : "Nobody needs you now");
    const lines = this.needs.of([...needs.keys()], (id) => needs.get(id));
    for (const [at, line] of lines.entries()) {
      const need = board.needs[at];
      const elsewhere = need.lab === most.id ? "" : labs.find(({ id }) => id === need.lab)?.title;
      line.shows(need, byId.get(need.trainee).name, elsewhere, now);
    }
    const rows = this.rows.of([...byId.keys()], (id) => byId.get(id));
    for (const [at, row] of rows.entries()) row.shows(people[at], room, needs.get(people[at].id), most.id);
  }

  /** @param {string} trainee */
  goTo(trainee) {
    const row = this.rows.kept.get(trainee);
    if (!row) return;
    row.unfolds(true);
    row.name.focus();
  }
}
