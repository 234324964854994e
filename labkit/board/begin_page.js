// Beginning a class: its title, its labs and its people. What is wrong, and what can be kept secret, the board says.

import { ask } from "./asking.js";
import { PeopleList } from "./begin_list.js";
import { button, element } from "./elements.js";
import { problem, signedIn } from "./house.js";

const WAIT_MS = 250;
const MODES = [
  ["practice", "practice: answers are checked at once"],
  ["assessed", "assessed: answers are only saved"],
];
const PLACES = [
  ["room", "in the room, from this machine alone"],
  ["laptops", "in the room or on laptops: workbook files are dealt"],
];

const title = element("input", { class: "rm-input", maxlength: 200, autocomplete: "off" });
const day = element("input", { class: "rm-input", type: "date" });
const place = element("input", { class: "rm-input", maxlength: 200, autocomplete: "off" });
const pass = element("input", { class: "rm-input", maxlength: 8, inputmode: "decimal", autocomplete: "off" });
const folder = element("input", { class: "rm-input", maxlength: 60, autocomplete: "off", spellcheck: false });
const where = element("span", { class: "rm-quiet" });
const sum = element("p", { role: "status", class: "rm-quiet" });
const wrong = element("div", { role: "alert" });
const list = new PeopleList();

/** @type {LabChoice[]} */
let labs = [];
let ownFolder = false;
let turn = 0;
let waiting = 0;

function select(options, value, change) {
  const made = element("select", { class: "rm-select" }, ...options.map(([name, words]) => element("option", { value: name, selected: name === value }, words)));
  made.addEventListener("change", change);
  return made;
}

/** One lab of the list, with how it is held once it is ticked. */
class LabChoice {
  constructor(lab) {
    this.lab = lab;
    this.tick = element("input", { type: "checkbox", disabled: Boolean(lab.wrong) });
    this.mode = select(MODES, "practice", () => changed());
    this.place = select(PLACES, "room", () => changed());
    this.secret = element("p", { class: "bg-secret" });
    this.how = element(
      "div",
      { class: "bg-how", hidden: true },
      element("label", { class: "bg-field" }, "Mode", this.mode),
      element("label", { class: "bg-field" }, "Worked at", this.place),
      this.secret,
    );
    this.tick.addEventListener("change", () => {
      this.how.hidden = !this.tick.checked;
      changed();
    });
    this.node = element("li", { class: "bg-lab" }, ...this.told(), this.how);
  }

  told() {
    const { title, aim, before, minutes, wrong } = this.lab;
    const head = element("label", { class: "bg-tick" }, this.tick, element("b", {}, title), minutes ? element("span", { class: "rm-quiet" }, `${minutes} minutes`) : "");
    if (wrong) return [head, problem(wrong.join("\n"))];
    return [head, element("p", {}, aim), before ? element("p", { class: "rm-quiet" }, `Before it: ${before}`) : ""];
  }

  get chosen() {
    return this.tick.checked ? [{ lab: this.lab.id, mode: this.mode.value, held: this.place.value }] : [];
  }

  says(secret) {
    this.secret.textContent = this.mode.value === "assessed" ? (secret[this.lab.id] ?? "") : "";
  }
}

function form() {
  return { title: title.value, day: day.value, place: place.value, pass_mark: pass.value, folder: folder.value, labs: labs.flatMap((each) => each.chosen) };
}

/** Ask what is to be said of the form as it is now, once nothing is typed for a moment. */
function changed() {
  const ticked = labs.filter((each) => each.tick.checked);
  const minutes = ticked.reduce((all, each) => all + each.lab.minutes, 0);
  sum.textContent = ticked.length ? `${ticked.length} chosen, about ${minutes} minutes by their authors` : "None chosen yet.";
  clearTimeout(waiting);
  waiting = window.setTimeout(asked, WAIT_MS);
}

async function asked() {
  turn += 1;
  const mine = turn;
  try {
    const told = await ask("/begin/form", form());
    if (mine !== turn) return;
    if (!ownFolder) folder.value = title.value.trim() ? told.folder : "";
    for (const each of labs) each.says(told.secret);
    wrong.replaceChildren(...(told.wrong.length ? [problem(told.wrong.join("\n"))] : []));
  } catch (error) {
    if (mine === turn) wrong.replaceChildren(problem(error.message));
  }
}

async function begin(event) {
  event.preventDefault();
  const go = event.submitter;
  go.disabled = true;
  try {
    clearTimeout(waiting);
    if (!ownFolder) await asked();
    const made = await list.sent((people) => ask("/begin/class", { ...form(), ...people }));
    location.assign(`/class/${encodeURIComponent(made.name)}/`);
  } catch (error) {
    wrong.replaceChildren(problem(error.message));
    wrong.scrollIntoView({ block: "nearest" });
  }
  go.disabled = false;
}

function field(words, input, ...more) {
  return element("label", { class: "rm-label" }, words, input, ...more);
}

function section(heading, ...children) {
  return element("section", { class: "hs-box bg-part" }, element("h2", {}, heading), ...children);
}

function shown(rule) {
  const own = element("ul", { class: "bg-labs" }, ...labs.map((each) => each.node));
  const form = element(
    "form",
    { class: "bg-form", novalidate: true },
    section("The class", field("Title", title), element("div", { class: "bg-two" }, field("Day", day), field("Place", place)), field("Pass mark in %", pass, element("span", { class: "rm-quiet" }, "Without one nobody passes or gets a certificate.")), field("Folder", folder, where)),
    section("Labs", sum, own, element("p", { class: "rm-quiet" }, rule)),
    section("People", list.node),
    element("div", { class: "bg-end" }, element("button", { class: "rm-button", type: "submit" }, "Begin the class"), wrong),
  );
  form.addEventListener("submit", begin);
  return form;
}

async function show() {
  document.title = "Begin a class – labkit";
  const head = element("header", { class: "hs-head" }, element("a", { class: "rm-link", href: "/" }, "All classes"), element("h1", {}, "Begin a class"));
  const main = element("main", {}, element("p", { role: "status" }, "Reading the labs …"));
  document.body.replaceChildren(element("div", { class: "hs-page" }, head, main));
  try {
    const told = await ask("/begin/labs");
    labs = told.labs.map((lab) => new LabChoice(lab));
    list.most = told.most_bytes;
    where.textContent = `It is made in ${told.folder}, and nothing is ever written over.`;
    main.replaceChildren(shown(told.rule));
    title.focus();
    changed();
  } catch (error) {
    main.replaceChildren(problem(error.message), button("Try once more", () => show(), { class: "rm-button" }));
  }
}

for (const input of [title, day, place, pass]) input.addEventListener("input", changed);
folder.addEventListener("input", () => {
  ownFolder = folder.value !== "";
});
signedIn(show);
