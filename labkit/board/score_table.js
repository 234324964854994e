// The score sheet as a table: a row a person, sorted, filtered and searched here. Rows are made a
// hundred at a time, so that those on the screen are there at once.

import { button, element } from "./elements.js";
import { classPath, WorkShown } from "./house.js";

const AT_ONCE = 100;
const collator = new Intl.Collator(undefined, { sensitivity: "base", numeric: true });

/** Their ids, their words, and the rows that they take. @type {[string, string, (row: any) => boolean][]} */
const FILTERS = [
  ["all", "Everybody", () => true],
  ["waits", "Waits for a mark by hand", (row) => row.cells.some((cell) => cell.state === "to be marked")],
  ["below", "Below the pass mark", (row) => row.below],
  ["missing", "Something not handed in", (row) => row.cells.some((cell) => cell.state === "not handed in")],
];

/** A figure as text, to sort by; what is not known comes last either way. */
function figure(text) {
  return text === "" || text === undefined ? null : Number(text);
}

function percentOf(text) {
  return text === "" ? element("span", { class: "rm-quiet" }, "–") : element("span", {}, `${text} %`);
}

function quiet(words) {
  return element("span", { class: "rm-quiet ms-beside" }, words);
}

/** Whether somebody passed: a sign and a word, and why it is open. */
export function passing(passed, why = "") {
  if (passed === true) return [element("span", { class: "ms-right" }, "✓ passed")];
  if (passed === false) return [element("span", { class: "ms-wrong" }, "✗ not passed")];
  return [element("span", {}, "… open"), ...(why ? [quiet(why)] : [])];
}

function labCell(cell) {
  if (!cell) return element("td", {}, quiet("not dealt"));
  if (cell.state === "not handed in") return element("td", {}, quiet("– not handed in"));
  const beside = [cell.waits && `◔ ${cell.waits}`, cell.attempts > 1 && `attempt ${cell.attempt}`, cell.late && "late"].filter(Boolean);
  return element("td", { class: "ms-figure" }, percentOf(cell.percent), ...beside.map(quiet));
}

/** The columns of a class: what is shown, and what it is sorted by. */
function columnsOf({ labs, rows, pass_mark }) {
  const cellOf = (row, lab) => row.cells.find((cell) => cell.lab === lab);
  const found = [
    { id: "name", words: "Person", by: (row) => row.name, cell: personCell },
    ...labs.map((lab) => ({
      id: `lab ${lab.id}`,
      words: lab.title,
      by: (row) => figure(cellOf(row, lab.id)?.percent),
      cell: (row) => labCell(cellOf(row, lab.id)),
    })),
  ];
  if (labs.length > 1)
    found.push({ id: "total", words: "Whole class", by: (row) => figure(row.percent), cell: (row) => element("td", { class: "ms-figure" }, percentOf(row.percent)) });
  if (pass_mark !== null)
    found.push({
      id: "passed",
      words: `Passed (${pass_mark} %)`,
      by: (row) => (row.passed === null ? 1 : row.passed ? 2 : 0),
      cell: (row) => element("td", {}, ...passing(row.passed, row.open)),
    });
  if (rows.some((row) => row.attempts > 1))
    found.push({ id: "attempts", words: "Attempts", by: (row) => row.attempts, cell: (row) => element("td", { class: "ms-figure" }, String(row.attempts)) });
  if (rows.some((row) => row.together))
    found.push({ id: "together", words: "Together with", by: (row) => row.together || null, cell: (row) => element("td", {}, row.together) });
  if (rows.some((row) => row.late))
    found.push({ id: "late", words: "Late", by: (row) => row.late, cell: (row) => element("td", {}, row.late ? `late (${row.late})` : "") });
  return found;
}

function personCell(row) {
  const search = new URLSearchParams({ person: row.id });
  return element("th", { scope: "row" }, element("a", { href: `?${search}`, "data-person": row.id }, row.name), quiet(row.id));
}

export class ScoreTable {
  constructor() {
    this.seen = "";
    this.rows = [];
    this.columns = [];
    this.sorted = { id: "", down: false };
    this.made = new Map();
    this.going = 0;
    this.told = element("div", { class: "ms-told" });
    this.came = element("p", { class: "ms-came", hidden: true });
    this.work = new WorkShown(() => {});
    this.find = element("input", { class: "rm-input", type: "search", autocomplete: "off", placeholder: "Name or id" });
    this.filter = element("select", { class: "rm-select ms-filter" });
    this.count = element("p", { role: "status", class: "ms-count" });
    this.head = element("tr");
    this.body = element("tbody");
    this.find.addEventListener("input", () => this.fill());
    this.filter.addEventListener("change", () => this.fill());
    const sheet = element("table", { class: "ms-table" }, element("thead", {}, this.head), this.body);
    this.scroll = element("div", { class: "ms-scroll", tabindex: 0, role: "region", "aria-label": "Score sheet" }, sheet);
    this.node = element(
      "section",
      {},
      element("h2", { class: "ms-hidden" }, "Score sheet"),
      this.told,
      this.came,
      this.work.node,
      element(
        "div",
        { class: "ms-tools" },
        element("label", { class: "rm-label" }, "Find a person", this.find),
        element("label", { class: "rm-label" }, "Show", this.filter),
        this.count,
        element("a", { class: "rm-button ms-second", href: "?right" }, "Put marks right for everybody"),
      ),
      this.scroll,
    );
  }

  /** @param {any} told */
  takes(told) {
    const { rows, pass_mark } = told;
    this.seen = told.seen;
    this.rows = rows;
    this.made.clear();
    this.columns = columnsOf(told);
    if (!this.columns.some((column) => column.id === this.sorted.id)) this.sorted = { id: "", down: false };
    this.sayWhen(told);
    const chosen = this.filter.value || "all";
    const filters = FILTERS.filter(([id]) => id !== "below" || pass_mark !== null);
    this.filter.replaceChildren(
      ...filters.map(([id, words, takes]) => element("option", { value: String(id), selected: id === chosen }, `${words} (${rows.filter(takes).length})`)),
    );
    this.headings();
    this.fillInPlace();
  }

  /** As `fill`, with what is looked at where it was. */
  fillInPlace() {
    const stood = this.scroll.scrollTop;
    const on = this.body.contains(document.activeElement) ? /** @type {HTMLElement} */ (document.activeElement).dataset.person : "";
    this.fill(() => {
      this.scroll.scrollTop = stood;
      if (on) this.focus(on);
    });
  }

  sayWhen({ written, as_written }) {
    if (!written) {
      this.told.replaceChildren(element("p", {}, "This class was not scored yet. ", element("a", { href: `${classPath()}hand-ins` }, "To the hand-ins")));
      return;
    }
    const anew = button("Write sheets and pages anew", () => this.work.begin("marks/anew", {}), { class: "rm-button rm-small ms-second" });
    const older = [element("p", {}, "The table has what was marked or put right since; sheets and pages have not."), anew];
    this.told.replaceChildren(element("p", {}, `Sheets and pages were last written ${written}.`), ...(as_written ? [] : older));
  }

  /** What came in since. @param {{ waiting: number, lost: number, unusable: number }} found */
  cameIn({ waiting, lost, unusable }) {
    const files = (number, one, many) => number && `${number} ${number === 1 ? one : many}`;
    const said = [
      files(waiting, "hand-in came in and is not scored yet", "hand-ins came in and are not scored yet"),
      files(lost, "hand-in was received and never scored, and its file is gone", "hand-ins were received and never scored, and their files are gone"),
      files(unusable, "other file cannot be used", "other files cannot be used"),
    ].filter(Boolean);
    this.came.hidden = !said.length;
    this.came.replaceChildren(`! ${said.join("; ")}. `, element("a", { href: `${classPath()}hand-ins` }, "To the hand-ins"));
  }

  headings() {
    const cells = this.columns.map((column) => {
      const now = this.sorted.id === column.id ? (this.sorted.down ? "descending" : "ascending") : "none";
      const sign = element("span", { "aria-hidden": "true" }, now === "none" ? "" : now === "ascending" ? " ▲" : " ▼");
      return element("th", { scope: "col", "aria-sort": now }, button(element("span", {}, column.words, sign), () => this.sortBy(column.id), { class: "ms-sort" }));
    });
    this.head.replaceChildren(...cells);
  }

  sortBy(id) {
    this.sorted = { id, down: this.sorted.id === id && !this.sorted.down };
    this.headings();
    this.fill();
    const at = this.columns.findIndex((column) => column.id === id);
    this.head.querySelectorAll("button")[at].focus();
  }

  /** The rows that are to be seen, in their order. */
  chosen() {
    const words = this.find.value.trim().toLocaleLowerCase();
    const takes = FILTERS.find(([id]) => id === this.filter.value)?.[2] ?? (() => true);
    const found = this.rows.filter((row) => takes(row) && (!words || `${row.name}\n${row.id}`.toLocaleLowerCase().includes(words)));
    const by = this.columns.find((column) => column.id === this.sorted.id)?.by;
    return by ? sortedBy(found, by, this.sorted.down) : found;
  }

  /** @param {() => void} [then] - once all rows are there */
  fill(then) {
    const rows = this.chosen();
    this.going += 1;
    const mine = this.going;
    const all = this.rows.length;
    this.count.textContent = rows.length === all ? `${all} people` : `${rows.length} of ${all} people`;
    this.body.replaceChildren(...rows.slice(0, AT_ONCE).map((row) => this.made_of(row)));
    this.scroll.scrollTop = 0;
    const more = (at) => {
      if (mine !== this.going) return;
      if (at >= rows.length) {
        then?.();
        return;
      }
      this.body.append(...rows.slice(at, at + AT_ONCE).map((row) => this.made_of(row)));
      setTimeout(() => more(at + AT_ONCE));
    };
    setTimeout(() => more(AT_ONCE));
  }

  made_of(row) {
    let made = this.made.get(row.id);
    if (!made) {
      made = element("tr", {}, ...this.columns.map((column) => column.cell(row)));
      this.made.set(row.id, made);
    }
    return made;
  }

  /** Back from somebody: there again. @param {string} person */
  focus(person) {
    this.made.get(person)?.querySelector("a")?.focus();
  }
}

/**
 * Rows by what a column is sorted by. What is not known comes last either way, equals stay as they were.
 * @param {any[]} rows @param {(row: any) => any} by @param {boolean} down
 */
export function sortedBy(rows, by, down) {
  const way = down ? -1 : 1;
  return [...rows].sort((a, b) => {
    const [one, other] = [by(a), by(b)];
    if (one === null || other === null) return (one === null ? 1 : 0) - (other === null ? 1 : 0);
    return way * (typeof one === "string" ? collator.compare(one, other) : one - other);
  });
}
