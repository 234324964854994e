// One form: an exercise to change, to copy, to move, or a new one. It shows the lines before it writes them.

import { button, element } from "./elements.js";
import { groupOf, wordsOf } from "./form_fields.js";
import { linesShown } from "./form_lines.js";

/** @typedef {import("./form_fields.js").Group} Group */
/** @typedef {{ ask: (path: string, said?: any) => Promise<any>, written: (done: any) => void, close: () => void }} Host */

const MEANWHILE = "The file was changed meanwhile, by an editor or on another page. Nothing was written over it.";
const TAKEN = "taken";
const ID = {
  name: "id",
  form: "text",
  needed: false,
  tells: "A short name that no other exercise here has: small letters, digits and '-'.",
  usual: "one is made of the title",
  choices: [],
  least: 0,
  fields: [],
  at_hand: false,
};

export class FormPanel {
  /**
   * @param {"change" | "move" | "copy" | "add"} does
   * @param {any} form - as the preview gives it
   * @param {Host} host
   * @param {string} [near] - the exercise behind which a new one may stand
   */
  constructor(does, form, host, near = "") {
    this.does = does;
    this.form = form;
    this.host = host;
    this.near = near;
    this.touched = false;
    this.shown = "";
    /** @type {Group | null} */
    this.fields = null;
    this.heading = element("h2", { tabindex: -1 });
    this.told = element("div", { class: "pf-told", role: "status" });
    this.body = element("div", { class: "pf-body" });
    this.result = element("div", { class: "pf-result" });
    this.look = button("Show what it writes", () => this.shows(), { class: "pf-button pf-main" });
    this.node = element(
      "div",
      {},
      element("div", { class: "pf-head" }, this.heading, button("Close", () => host.close(), { class: "pf-button" })),
      this.told,
      this.body,
      element("div", { class: "pf-presses" }, this.look),
      this.result,
    );
    this.body.addEventListener("input", () => this.isTouched());
    this.build(form.values ?? {});
  }

  /** @param {Record<string, any>} values */
  build(values) {
    const { form, does } = this;
    const title = { change: "Change", move: "Move", copy: "Copy", add: "Add an exercise" }[does];
    this.heading.textContent = does === "add" ? title : `${title}: ${form.title}`;
    this.place = does === "move" || does === "add" ? this.placeOf() : null;
    this.id = does === "copy" || does === "add" ? groupOf([ID], does === "copy" ? { id: form.id } : {}) : null;
    this.fields = does === "change" || does === "add" ? groupOf(form.fields, values, true) : null;
    const where = form.line ? `${form.file}, line ${form.line}` : form.file;
    this.body.replaceChildren(
      element("p", { class: "pf-kind" }, ...kindOf(form), ` In ${where}.`),
      ...(form.locked ? [element("p", { class: "pf-wrong" }, form.locked)] : []),
      ...(this.fields ? namesOf(form.names) : []),
      ...(this.place ? [this.place.node] : []),
      ...(this.id ? this.id.nodes : []),
      ...(this.fields ? this.fields.nodes : []),
    );
    this.look.disabled = Boolean(form.locked);
  }

  // A place in the text: behind an exercise, a heading, a paragraph.
  placeOf() {
    const { places, at } = this.form;
    const here = at ?? places.findLastIndex(({ exercise }) => exercise && (!this.near || exercise === this.near));
    const options = [element("option", { value: -1 }, "above all of the text")];
    places.forEach(({ title, exercise, heading }, number) => {
      if (number === at) return;
      const what = exercise ? "exercise" : heading ? "heading" : "text";
      options.push(element("option", { value: number }, `${what}: ${title}`));
    });
    const input = element("select", { class: "pf-input", id: "pf-place" }, ...options);
    input.value = String(this.does === "move" ? here - 1 : here);
    const label = element("label", { class: "pf-name", for: "pf-place" }, "It stands behind");
    return { node: element("div", { class: "pf-field" }, label, input), value: () => Number(input.value) };
  }

  isTouched() {
    this.touched = true;
    this.shown = "";
    this.result.replaceChildren();
    this.told.replaceChildren();
  }

  get said() {
    const { does, form } = this;
    return {
      do: does,
      of: form.of,
      exercise: form.exercise,
      kind: form.kind,
      values: this.fields?.value(),
      after: this.place?.value(),
      id: this.id?.value().id,
    };
  }

  async shows() {
    this.untell();
    const found = await this.host.ask("form/lines", this.said);
    if (found.told) {
      this.tells(found);
      return;
    }
    this.shown = found.shown;
    const wrong = [...found.problems.filter((each) => !this.tellAt(each)), ...found.elsewhere];
    const many = found.problems.length + found.elsewhere.length;
    this.result.replaceChildren(...this.resultOf(found.hunks, many, wrong));
    if (many) this.goToWrong();
    else this.result.querySelector("button")?.focus();
  }

  /** @param {any[]} hunks @param {number} many @param {any[]} wrong */
  resultOf(hunks, many, wrong) {
    const nodes = wrong.map(({ where, field, sentence, mend }) => element("p", { class: "pf-wrong" }, `${where}${field ? ` · ${field}` : ""}: ${sentence} ${mend}`));
    if (!this.shown) return nodes;
    if (!hunks.length) return [element("p", {}, "Nothing is different from what stands in the file.")];
    const words = many ? `Write it all the same, with ${many} to be mended` : "Write it into the file";
    return [
      ...nodes,
      element("h3", {}, `This is written into ${this.form.file}`),
      linesShown(hunks),
      element("div", { class: "pf-presses" }, button(words, () => this.writes(), { class: many ? "pf-button" : "pf-button pf-main" })),
    ];
  }

  async writes() {
    const done = await this.host.ask("form/write", { ...this.said, shown: this.shown });
    if (done.told) {
      this.tells(done);
      return;
    }
    this.touched = false;
    this.host.written(done);
  }

  /** @param {any} wrong */
  tellAt(wrong) {
    return Boolean(this.fields?.tell(wrong.path, wrong) || this.id?.tell(wrong.path, wrong));
  }

  untell() {
    this.fields?.untell();
    this.id?.untell();
    this.told.replaceChildren();
    this.result.replaceChildren();
    this.shown = "";
  }

  goToWrong() {
    const field = this.body.querySelector("[aria-invalid]");
    const wrong = this.body.querySelector(".pf-wrong:not(:empty)") ?? this.result;
    if (field instanceof HTMLElement) field.focus();
    else wrong.scrollIntoView({ block: "nearest" });
  }

  /** @param {{ told: string[], changed?: boolean }} found */
  tells({ told, changed }) {
    if (changed) this.isOld();
    else this.told.replaceChildren(...told.map((each) => element("p", { class: "pf-wrong" }, each)));
    this.told.scrollIntoView({ block: "nearest" });
  }

  // The file is another one now: nothing is written until its text is taken in.
  isOld() {
    this.shown = "";
    this.result.replaceChildren();
    this.told.replaceChildren(
      element("p", { class: "pf-wrong" }, MEANWHILE),
      button("Take in the file as it is now", () => this.takesIn(), { class: "pf-button" }),
    );
  }

  // What was typed stays, but for fields that were changed in the file too.
  async takesIn() {
    const { does, form } = this;
    const now = await this.host.ask(`form?${does === "add" ? newOf(form) : `exercise=${encodeURIComponent(form.exercise)}`}`);
    if (now.told) {
      this.tells(now);
      return;
    }
    const { values, lost } = this.joined(now);
    this.form = now;
    this.build(withoutEmpty(values));
    const words = lost.length ? lost : ["What you typed is still here."];
    this.told.replaceChildren(...words.map((each) => element("p", {}, each)));
  }

  /** What was typed, with what was changed in the file meanwhile; of what both changed a sentence each. @param {any} now */
  joined(now) {
    const read = this.form.values ?? {};
    const before = groupOf(this.form.fields, read).value();
    const values = { ...now.values };
    const lost = [];
    for (const [name, typed] of Object.entries(this.fields?.value() ?? {})) {
      if (isSame(typed, before[name])) continue;
      if (isSame(now.values?.[name], read[name])) values[name] = typed;
      else lost.push(`${wordsOf(name)} was changed there too: it is as in the file now.${inWords(typed)}`);
    }
    return { values, lost };
  }
}

/** @param {any} one @param {any} other */
const isSame = (one, other) => JSON.stringify(one) === JSON.stringify(other);

/** @param {any} typed - the value of a field that is lost */
function inWords(typed) {
  const text = typeof typed === "string" ? typed : typed?.lines;
  return text ? ` You had typed: ${text}` : "";
}

/** @param {any} form */
function kindOf({ kind, does }) {
  if (kind === TAKEN) return ["Taken from another lab: what you leave empty is as it is there."];
  return [element("code", {}, kind), does ? `: the trainee ${does}.` : ""];
}

/** What formulas may be made of, folded. @param {{ of: string, names: string }[]} names */
function namesOf(names) {
  const lines = names.filter((each) => each.names).map((each) => element("p", { class: "pf-help" }, each.of ? `${each.of}: ` : "", element("code", {}, each.names)));
  if (!lines.length) return [];
  return [element("details", { class: "pf-waits" }, element("summary", {}, "Names that formulas may use"), ...lines)];
}

/** What a form of a new exercise is asked for by. @param {any} form */
function newOf({ kind, values }) {
  return kind === TAKEN ? `from=${encodeURIComponent(values.from)}` : `kind=${encodeURIComponent(kind)}`;
}

/** A form's own values without what is empty, as the preview gives them. @param {Record<string, any>} values */
function withoutEmpty(values) {
  return Object.fromEntries(Object.entries(values ?? {}).filter(([, value]) => value !== null && value !== "" && value?.lines !== ""));
}

/**
 * The kinds to choose from for a new exercise.
 * @param {{ kind: string, does: string }[]} kinds @param {(kind: string) => void} chosen @param {() => void} takes @param {() => void} close
 */
export function kindsOf(kinds, chosen, takes, close) {
  const heading = element("h2", { tabindex: -1 }, "Add an exercise: of which kind?");
  const items = kinds.map(({ kind, does }) =>
    element("li", {}, button(element("span", {}, element("b", {}, wordsOf(kind)), does ? `: the trainee ${does}` : ""), () => chosen(kind), { class: "pf-choice", "data-kind": kind })),
  );
  return {
    heading,
    node: element(
      "div",
      {},
      element("div", { class: "pf-head" }, heading, button("Close", close, { class: "pf-button" })),
      button(element("span", {}, element("b", {}, "Take one from another lab"), ": find an exercise that is there already"), takes, { class: "pf-choice" }),
      element("ul", { class: "pf-kinds" }, ...items),
    ),
  };
}
