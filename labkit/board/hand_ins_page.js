// The page of a class's hand-ins: taking them in, what came, who is missing, scoring.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { Sending, chosen, dropped } from "./hand_ins_sending.js";
import { Told } from "./hand_ins_told.js";
import { TurnoutShown } from "./hand_ins_turnout.js";
import { WorkShown, classPage, classPath, problem, signedIn } from "./house.js";

const LOOK_AGAIN_MS = 15000;

/** Files by number and name, of which the first are named. */
class Counted {
  constructor() {
    this.count = 0;
    /** @type {string[]} */
    this.names = [];
  }

  add(more) {
    this.count += more.count;
    this.names.push(...more.names);
  }
}

function files(count, word = "") {
  return `${count} ${word}${count === 1 ? "file" : "files"}`;
}

function named(words, counted) {
  const more = counted.count - counted.names.length;
  const names = [...counted.names, ...(more ? [`and ${more} more`] : [])];
  return element("details", {}, element("summary", {}, words), element("ul", { class: "hi-files" }, ...names.map((name) => element("li", {}, name))));
}

function received(one, title) {
  const facts = [title, `received ${one.received}`, `made ${one.made} by its laptop's clock`, `receipt ${one.code}`];
  const said = [...(one.late ? [element("b", { class: "hi-late" }, "late")] : []), ...facts.map((fact) => element("span", {}, fact))];
  return element("li", {}, element("b", {}, `${one.name} (${one.id})`), element("span", { class: "hi-facts" }, ...said));
}

class HandInsPage {
  constructor(known) {
    this.known = known;
    this.told = new Told(known.folder);
    this.turnout = new TurnoutShown();
    this.old = element("p", { class: "rm-problem", role: "status" });
    /** On this visit. @type {{ new: any[], known: Counted, others: Counted }} */
    this.came = { new: [], known: new Counted(), others: new Counted() };
    this.unread = [];
    this.sending = new Sending(
      known.limits,
      (told) => this.took(told),
      (file, sentence) => this.unread.push({ file, sentence }),
    );
    this.busy = false;
    this.progress = element("progress", { "aria-label": "Files taken in", hidden: true });
    this.far = element("p", { role: "status", class: "hi-far" });
    this.visit = element("div", { class: "hi-visit" });
    this.scored = element("p", { role: "status" });
    this.work = new WorkShown((told) => this.workDone(told));
  }

  build() {
    if (!this.known.labs.length) {
      const way = element("a", { class: "rm-button", href: classPath() }, "To the class");
      classPage(this.known.title, "hand-ins", element("p", {}, "No workbook is dealt yet, so nothing can come in. Deal first."), way);
      return;
    }
    classPage(this.known.title, "hand-ins", this.old, this.receiving(), this.told.node, this.turnout.node, this.scoring());
    this.show();
    this.work.watch(this.known.work);
    // Whoever leaves the page now leaves the rest of the files behind.
    addEventListener("beforeunload", (event) => this.busy && event.preventDefault());
    setInterval(() => document.hidden || this.refresh(), LOOK_AGAIN_MS);
    document.addEventListener("visibilitychange", () => document.hidden || this.refresh());
  }

  receiving() {
    const some = element("input", { type: "file", multiple: true, hidden: true, "aria-label": "Files of hand-ins" });
    const folder = element("input", { type: "file", webkitdirectory: true, hidden: true, "aria-label": "A folder of hand-ins" });
    for (const input of [some, folder]) {
      input.addEventListener("change", () => {
        const found = chosen(input.files ?? new DataTransfer().files);
        input.value = "";
        this.take(found);
      });
    }
    const zone = element(
      "div",
      { class: "hi-zone" },
      element("p", {}, element("b", {}, "Drop hand-ins here"), ": files, folders of a stick, or a ZIP of them. As often as you like: the same file twice is one."),
      element("div", { class: "rm-row" }, button("Choose files", () => some.click(), { class: "rm-button" }), button("Choose a folder", () => folder.click(), { class: "rm-button" })),
    );
    this.catchDrops(zone);
    const look = button("Take in what lies there", () => this.look(), { class: "rm-link" });
    return element(
      "section",
      { class: "hs-box hi-receive", "aria-labelledby": "hi-receive" },
      element("h2", { id: "hi-receive" }, "Take hand-ins in"),
      zone,
      some,
      folder,
      this.far,
      this.progress,
      this.visit,
      element("p", { class: "rm-quiet" }, "Files that you put into the class's own folder yourself: ", element("span", { class: "hi-path" }, this.known.folder), " ", look),
    );
  }

  /** A drop anywhere on the page is meant for here: a browser would leave the page for the file. */
  catchDrops(zone) {
    document.addEventListener("dragover", (event) => {
      event.preventDefault();
      zone.classList.add("hi-over");
    });
    document.addEventListener("dragleave", (event) => event.relatedTarget || zone.classList.remove("hi-over"));
    document.addEventListener("drop", async (event) => {
      event.preventDefault();
      zone.classList.remove("hi-over");
      if (event.dataTransfer) await this.take(await dropped(event.dataTransfer));
    });
  }

  /** Take files in, after those that are on their way. */
  async take(found) {
    if (!found.length) return;
    this.sending.add(found);
    if (this.busy) return;
    this.busy = true;
    this.step();
    try {
      await this.sending.go(() => this.step());
      this.far.textContent = "";
    } catch (error) {
      this.stopped(error);
    }
    this.busy = false;
    this.progress.hidden = true;
    this.tellUnread();
    await this.refresh();
    this.showVisit();
  }

  step() {
    const done = this.sending.all - this.sending.left.length;
    this.far.textContent = `${done} of ${files(this.sending.all)} taken in`;
    this.progress.hidden = false;
    this.progress.max = this.sending.all;
    this.progress.value = done;
  }

  stopped(error) {
    const left = this.sending.left.splice(0);
    this.sending.all = 0;
    const again = button(`Go on with ${left.length === 1 ? "the file" : `the ${left.length} files`} that did not come in`, () => this.take(left), { class: "rm-button rm-small" });
    this.far.replaceChildren(problem(error.message), again);
  }

  took(told) {
    this.came.new.push(...told.new);
    this.came.known.add(told.known);
    this.came.others.add(told.others);
    this.told.came(told.told);
  }

  tellUnread() {
    const sentence = "This browser could not read them, so nothing of them came in. Everything else did. Drop them once more, or ask for them again.";
    if (this.unread.length) this.told.came([{ reason: "unread", title: "Not readable here", sentence, files: this.unread.splice(0) }]);
  }

  async look() {
    try {
      this.took(await ask(`${classPath()}hand-ins/look`, {}));
    } catch (error) {
      this.far.replaceChildren(problem(error.message));
    }
    await this.refresh();
    this.showVisit();
  }

  showVisit() {
    const { new: fresh, known, others } = this.came;
    const words = fresh.length ? `${fresh.length} received` : "Nothing new came in";
    const receipts = element("p", { class: "rm-quiet" }, "A receipt for each, to print, lies in ", element("span", { class: "hi-path" }, this.known.receipts));
    const rows = element("ul", { class: "hi-rows" }, ...fresh.map((one) => received(one, this.titleOf(one.lab))));
    const list = element("div", {}, ...(fresh.length ? [rows, receipts] : []));
    const receivedNow = fresh.length > 5 ? element("details", {}, element("summary", {}, words), list) : element("div", {}, element("p", {}, element("b", {}, words)), list);
    this.visit.replaceChildren(
      receivedNow,
      ...(known.count ? [named(`The same again: ${files(known.count)}, nothing to do`, known)] : []),
      ...(others.count ? [named(`${files(others.count, "other ")}, left alone`, others)] : []),
    );
  }

  titleOf(id) {
    return this.known.labs.find((lab) => lab.id === id)?.title ?? id;
  }

  scoring() {
    const go = button("Score", () => this.score(), { class: "rm-button" });
    const words = "Marks what came in, then writes the score sheet, a page for everybody and the debrief. Marks are there first. Press it again for what came in since.";
    return element("section", { class: "hs-box hi-score", "aria-labelledby": "hi-score" }, element("h2", { id: "hi-score" }, "Score"), element("p", {}, words), go, this.work.node, this.scored);
  }

  score() {
    this.scored.replaceChildren();
    return this.work.begin("hand-ins/score", {});
  }

  async workDone(told) {
    if (told.counted !== undefined) {
      const waits = told.waiting ? ` ${told.waiting} wait for a mark by hand.` : "";
      const marks = element("a", { class: "rm-link", href: `${classPath()}marks` }, "Marks");
      const debrief = element("a", { class: "rm-link", href: `${classPath()}debrief` }, "Debrief");
      this.scored.replaceChildren(`Scored: ${told.counted} of ${told.results} are handed in and marked.${waits} `, marks, " · ", debrief);
    }
    await this.refresh();
  }

  show() {
    this.told.show(this.known.told);
    this.turnout.show(this.known);
  }

  /** Ask anew how it stands; a page that cannot says how old it is. */
  async refresh() {
    try {
      this.known = await ask(`${classPath()}hand-ins/list`);
      this.old.textContent = "";
    } catch (error) {
      this.old.textContent = `This page is as of ${this.known.as_of}. ${error.status ? error.message : "labkit does not answer: is its window still open?"}`;
    }
    this.show();
    this.work.watch(this.known.work);
  }
}

signedIn(async () => {
  new HandInsPage(await ask(`${classPath()}hand-ins/list`)).build();
});
