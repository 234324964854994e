// The list of people on the page that begins a class: dropped in, what was taken for what, everybody in it.
// The board reads it anew after each change; this page keeps what was chosen, typed and left out, and the file itself.

import { ask, Refused } from "./asking.js";
import { button, element } from "./elements.js";
import { problem } from "./house.js";

const GONE = 410; // the board was started anew meanwhile: the file is sent once more
const FIELDS = { id: "Id", name: "Whole name", "first name": "First name", "last name": "Last name", bench: "Bench", seat: "Seat" };
const MADE = "made";
const NONE = "";
const WAYS = [
  ["id", "Id"],
  ["name", "Name"],
];

export class PeopleList {
  constructor() {
    this.most = 0;
    this.file = null;
    this.turn = 0;
    /** @type {Record<number, Record<string, string>>} */
    this.mended = {};
    /** @type {Set<number>} */
    this.out = new Set();
    /** @type {Set<number>} */
    this.open = new Set();
    /** @type {Set<string>} */
    this.answered = new Set();
    this.input = element("input", { type: "file", class: "bg-file", accept: ".csv,.txt,.tsv,.xlsx" });
    this.input.addEventListener("change", () => this.drop(this.input.files?.[0]));
    this.said = element("div", { role: "status" });
    this.read = element("div", { class: "bg-read" });
    const field = element("label", { class: "bg-drop" }, element("b", {}, "The list of people, as your office program saved it"), this.input, element("span", { class: "rm-quiet" }, "CSV or XLSX, any headings, in any order. Choose the file, or drop it here. It is read on this machine and stays as it is."));
    // Anywhere on the page: beside the field a browser would open the file, and the form would be gone.
    document.addEventListener("dragover", (event) => event.preventDefault());
    document.addEventListener("drop", (event) => {
      event.preventDefault();
      this.drop(event.dataTransfer?.files[0]);
    });
    this.node = element("div", { class: "bg-people" }, field, this.said, this.read);
    this.forget();
  }

  forget() {
    this.now = null;
    this.asked = {};
    this.heading = {};
    this.mended = {};
    this.out.clear();
    this.open.clear();
    this.answered.clear();
  }

  async drop(file) {
    if (!file) return;
    this.forget();
    this.file = file;
    this.read.replaceChildren();
    this.said.replaceChildren(element("p", {}, `Reading ${file.name} …`));
    this.turn += 1;
    const mine = this.turn;
    try {
      const told = await this.upload();
      if (mine === this.turn) this.show(told);
    } catch (error) {
      this.file = null;
      if (mine === this.turn) this.said.replaceChildren(problem(error.message));
    }
  }

  async upload() {
    if (this.file.size > this.most) throw new Refused(`${this.file.name} is larger than ${this.most / 1e6} MB. Save the people alone, without pictures and other sheets.`, 0);
    let answer;
    try {
      answer = await fetch(`/begin/list?name=${encodeURIComponent(this.file.name)}`, { method: "POST", body: this.file });
    } catch {
      throw new Refused("The file cannot be read, or labkit does not answer. Choose the file once more.", 0);
    }
    if (!answer.ok) throw new Refused(await answer.text(), answer.status);
    return answer.json();
  }

  /** What was chosen, typed and left out, as the board is told it. */
  get choices() {
    if (!this.now) return { list: "" };
    return { list: this.now.list, ...this.heading, ...this.asked, mended: this.mended, left_out: [...this.out], answered: [...this.answered] };
  }

  /** Ask something of the list; where the board does not have it any more it gets the file again. */
  async sent(work) {
    try {
      return await work(this.choices);
    } catch (error) {
      if (error.status !== GONE || !this.file) throw error;
      this.now = await this.upload();
      return work(this.choices);
    }
  }

  async again() {
    this.turn += 1;
    const mine = this.turn;
    try {
      const told = await this.sent((choices) => ask("/begin/reading", choices));
      if (mine === this.turn) this.show(told);
    } catch (error) {
      if (mine === this.turn) this.said.replaceChildren(problem(error.message));
    }
  }

  show(told) {
    this.now = told;
    this.asked = { columns: told.chosen, makes_ids: told.makes_ids };
    const held = document.activeElement?.getAttribute("data-key");
    const here = told.people.filter((each) => !each.left_out);
    const rows = here.filter((each) => each.wrong.length).length;
    const counted = `${told.file}: ${here.length} ${here.length === 1 ? "person" : "people"}`;
    const mend = rows ? `, ${rows} ${rows === 1 ? "row" : "rows"} to be mended` : "";
    const first = here.find((each) => each.wrong.length);
    const go = first && button("Go to the first", () => this.focus(`${first.line} id`), { class: "rm-link", "data-key": "first" });
    this.said.replaceChildren(element("p", { class: "rm-row" }, element("b", {}, told.wrong.length ? told.file : counted + mend), go ?? ""), ...told.remarks.map((line) => element("p", { class: "rm-quiet" }, line)));
    this.read.replaceChildren(this.headings(), this.fields(), this.people());
    if (held) this.focus(held);
  }

  /** @param {string} key */
  focus(key) {
    /** @type {HTMLElement | null} */ (this.node.querySelector(`[data-key="${CSS.escape(key)}"]`))?.focus();
  }

  headings() {
    const input = element(
      "select",
      { class: "rm-select", "data-key": "heading" },
      element("option", { value: 0, selected: this.now.heading === 0 }, "no line: people begin at once"),
      ...this.now.headings.map(({ line, words }) => element("option", { value: line, selected: this.now.heading === line }, `line ${line}: ${words.slice(0, 80)}`)),
    );
    input.addEventListener("change", () => {
      // Under other headings other columns are proposed.
      this.heading = { heading: Number(input.value) };
      this.asked = {};
      this.answered.clear();
      this.again();
    });
    return element("div", { class: "bg-heading" }, element("label", { class: "bg-field" }, "The headings stand in", input), this.question("heading", true));
  }

  fields() {
    const rows = this.now.fields.map((name) => this.field(name));
    const rest = this.now.not_taken;
    return element(
      "div",
      { class: "bg-taken" },
      element("h3", {}, "What was taken for what"),
      ...rows,
      ...(rest.length ? [element("p", { class: "rm-quiet" }, `Not taken: ${rest.join(", ")}. These stay in your file alone.`)] : []),
      ...(this.now.wrong.length ? [problem(this.now.wrong.join("\n"))] : []),
    );
  }

  field(name) {
    const at = this.now.chosen[name];
    const made = name === "id" && this.now.makes_ids;
    const column = this.now.columns.find((each) => each.at === at);
    const options = [
      [NONE, "–"],
      ...(name === "id" ? [[MADE, "made by labkit"]] : []),
      ...this.now.columns.map((each) => [each.at, each.label]),
    ];
    const value = made ? MADE : (at ?? NONE);
    const input = element("select", { class: "rm-select", "data-key": `field ${name}` }, ...options.map(([each, words]) => element("option", { value: each, selected: each === value }, words)));
    input.addEventListener("change", () => this.choose(name, input.value));
    const shown = made ? this.now.people.slice(0, 3).map((each) => each.id) : (column?.cells ?? []);
    const examples = shown.length ? `such as ${shown.join(" · ")}` : "";
    const told = "In the order of the list, and written into roster.csv: whoever is there keeps theirs, whoever comes later.";
    return element(
      "div",
      { class: "bg-taken-row" },
      element("label", { class: "bg-field" }, FIELDS[name], input),
      element("span", { class: "rm-quiet bg-cells" }, made ? `${examples}. ${told}` : examples),
      this.question(name, value !== NONE),
    );
  }

  question(name, chosen) {
    const words = this.now.questions[name];
    if (!words || this.answered.has(name)) return "";
    const yes = button(chosen ? "Yes" : "Leave it so", () => this.answer(name), { class: "rm-button rm-small", "data-key": `yes ${name}` });
    return element("div", { class: "bg-question" }, element("p", {}, words), yes);
  }

  answer(name) {
    this.answered.add(name);
    this.show(this.now);
    this.focus(name === "heading" ? name : `field ${name}`);
  }

  choose(name, value) {
    const columns = { ...this.now.chosen };
    delete columns[name];
    if (value !== NONE && value !== MADE) columns[name] = Number(value);
    const parts = ["first name", "last name"];
    if (name === "name" && value) for (const part of parts) delete columns[part];
    if (parts.includes(name) && value) delete columns.name;
    const answers = name === "name" || parts.includes(name) ? ["name", ...parts] : [name];
    for (const each of answers) this.answered.add(each);
    const makes_ids = name === "id" ? value === MADE : this.now.makes_ids;
    this.asked = { columns, makes_ids };
    this.again();
  }

  people() {
    if (!this.now.people.length) return "";
    const all = this.now.people;
    const places = ["bench", "seat"].filter((what) => all.some((each) => each[what]));
    const columns = [...WAYS, ...places.map((what) => [what, FIELDS[what]])];
    const head = element("tr", {}, element("th", { scope: "col" }, "Line"), ...columns.map(([, words]) => element("th", { scope: "col" }, words)), element("th", { scope: "col" }, "To look at"));
    return element(
      "div",
      { class: "bg-rows", tabindex: 0, role: "region", "aria-label": "Everybody in the list" },
      element("table", {}, element("thead", {}, head), element("tbody", {}, ...all.map((each) => this.row(each, columns)))),
    );
  }

  row(person, columns) {
    const typed = !person.left_out && (person.wrong.length > 0 || this.open.has(person.line));
    const cells = columns.map(([what, words]) => element("td", { "data-label": words }, typed ? this.typing(person, what, words) : person[what]));
    const state = person.left_out ? "bg-out" : person.wrong.length ? "bg-wrong" : "";
    return element("tr", { class: state }, element("td", { class: "bg-line" }, String(person.line)), ...cells, element("td", { class: "bg-acts" }, ...this.told(person), this.acts(person, typed)));
  }

  told(person) {
    if (person.left_out) return [element("p", {}, "left out")];
    return [...person.wrong.map((line) => element("p", { class: "rm-problem" }, line)), ...person.remarks.map((line) => element("p", {}, line))];
  }

  acts(person, typed) {
    const { line } = person;
    const who = person.name || person.id || `line ${line}`;
    const turn = button(person.left_out ? "Take in again" : "Leave out", () => {
      if (!this.out.delete(line)) this.out.add(line);
      this.again();
    }, { class: "rm-link", "data-key": `out ${line}`, "aria-label": `${person.left_out ? "Take in again" : "Leave out"}: ${who}` });
    const change = button("Change", () => {
      this.open.add(line);
      this.show(this.now);
      this.focus(`${line} name`);
    }, { class: "rm-link", "data-key": `change ${line}`, "aria-label": `Change: ${who}` });
    return element("div", { class: "rm-row" }, ...(typed || person.left_out ? [] : [change]), turn);
  }

  typing(person, what, words) {
    const { line } = person;
    const input = element("input", { class: "rm-input", value: person[what], maxlength: 300, autocomplete: "off", spellcheck: false, "data-key": `${line} ${what}`, "aria-label": `${words}, line ${line}`, "aria-invalid": person.wrong.length > 0 });
    input.addEventListener("change", () => {
      this.mended[line] = { ...this.mended[line], [what]: input.value };
      this.open.add(line);
      this.again();
    });
    input.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault(); // it does not begin the class
      input.blur();
      input.focus();
    });
    return input;
  }
}
