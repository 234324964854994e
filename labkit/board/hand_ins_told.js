// What is told of files that came in: a kind explained once, its files below, until it is put away.

import { keptHere } from "./draft_store.js";
import { button, element } from "./elements.js";

function keyOf(kind, file) {
  return [kind.reason, file.file, file.sentence].join("\n");
}

/** The kinds that labkit tells of, by their explanation; what was put away stays away in this browser. */
export class Told {
  /** @param {string} folder - the class's */
  constructor(folder) {
    this.kept = keptHere(`labkit put away ${folder}`);
    /** @type {Set<string>} */
    this.away = new Set(this.kept.read() ?? []);
    /** What this visit brought and the class does not hold. @type {any[]} */
    this.visit = [];
    this.shown = "";
    this.node = element("div", { class: "hi-told" });
  }

  /** What a lot of files brought is told, also where the same was put away before. @param {any[]} kinds */
  came(kinds) {
    for (const kind of kinds) for (const file of kind.files) this.away.delete(keyOf(kind, file));
    this.visit.push(...kinds);
  }

  /** @param {any[]} kinds - what labkit tells of the class */
  show(kinds) {
    const all = this.all(kinds);
    const shown = JSON.stringify(all);
    if (shown === this.shown) return;
    this.shown = shown;
    this.node.replaceChildren(...all.map((kind) => this.kind(kind, kinds)));
  }

  all(kinds) {
    /** @type {Map<string, any>} */
    const found = new Map();
    for (const kind of [...kinds, ...this.visit]) {
      const one = found.get(kind.reason) ?? { ...kind, files: [] };
      const known = new Set(one.files.map((file) => keyOf(kind, file)));
      const news = kind.files.filter((file) => !this.away.has(keyOf(kind, file)) && !known.has(keyOf(kind, file)));
      found.set(kind.reason, { ...one, files: [...one.files, ...news] });
    }
    return [...found.values()].filter((kind) => kind.files.length);
  }

  kind(kind, kinds) {
    const away = button("Put away", () => this.putAway(kind, kinds), { class: "rm-link", "aria-label": `Put away: ${kind.title}` });
    const files = kind.files.map((file) =>
      element("li", {}, element("b", {}, file.file), file.name && ` (${file.name})`, element("span", { class: "hi-said" }, file.sentence)),
    );
    const list = element("ul", { class: "hi-files" }, ...files);
    const few = kind.files.length <= 5;
    const below = few ? list : element("details", {}, element("summary", {}, `${kind.files.length} files`), list);
    const head = element("h3", {}, `${kind.title} (${kind.files.length})`);
    return element("section", { class: "hi-kind" }, element("div", { class: "rm-row" }, head, away), element("p", {}, kind.sentence), below);
  }

  putAway(kind, kinds) {
    for (const file of kind.files) this.away.add(keyOf(kind, file));
    this.kept.write([...this.away]);
    this.show(kinds);
    // The button is gone: whoever uses keys goes on from here.
    this.node.tabIndex = -1;
    this.node.focus();
  }
}
