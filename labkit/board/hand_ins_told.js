// What is told of files that came in: a kind explained once, its files below, until it is put away.

import { keptHere } from "./draft_store.js";
import { button, element } from "./elements.js";

const FEW = 5;

function keyOf(kind, file) {
  return [kind.reason, file.file, file.sentence].join("\n");
}

function listed(files) {
  const items = files.map((file) =>
    element("li", {}, element("b", {}, file.file), file.name ? ` (${file.name})` : "", element("span", { class: "hi-said" }, file.sentence)),
  );
  return element("ul", { class: "hi-files" }, ...items);
}

/** The kinds that labkit tells of, by their explanation; what was put away stays away in this browser. */
export class Told {
  /** @param {string} folder - the class's */
  constructor(folder) {
    this.kept = keptHere(`labkit put away ${folder}`);
    /** @type {Set<string>} */
    this.putBy = new Set(this.kept.read() ?? []);
    /** What this visit brought and the class does not hold. @type {any[]} */
    this.visit = [];
    this.shown = "";
    this.node = element("div", { class: "hi-told" });
  }

  /** What a lot of files brought is told, also where the same was put away before. @param {any[]} kinds */
  came(kinds) {
    for (const kind of kinds) for (const file of kind.files) this.putBy.delete(keyOf(kind, file));
    this.visit.push(...kinds);
  }

  /** @param {any[]} kinds - what labkit tells of the class */
  show(kinds) {
    const all = this.all(kinds);
    const shown = JSON.stringify([all, this.countAway(kinds)]);
    if (shown === this.shown) return;
    this.shown = shown;
    const loud = all.filter((kind) => !kind.quiet).map((kind) => this.kind(kind, kinds));
    const quiet = all.filter((kind) => kind.quiet).map((kind) => this.folded(kind, kinds));
    this.node.replaceChildren(...loud, ...quiet, ...this.wayBack(kinds));
  }

  all(kinds) {
    /** @type {Map<string, any>} */
    const found = new Map();
    for (const kind of [...kinds, ...this.visit]) {
      const one = found.get(kind.reason) ?? { ...kind, files: [] };
      const known = new Set(one.files.map((file) => keyOf(kind, file)));
      const news = kind.files.filter((file) => !this.putBy.has(keyOf(kind, file)) && !known.has(keyOf(kind, file)));
      found.set(kind.reason, { ...one, files: [...one.files, ...news] });
    }
    return [...found.values()].filter((kind) => kind.files.length);
  }

  kind(kind, kinds) {
    const few = kind.files.length <= FEW;
    const list = listed(kind.files);
    const below = few ? list : element("details", {}, element("summary", {}, `${kind.files.length} files`), list);
    const head = element("h3", {}, `${kind.title} (${kind.files.length})`);
    return element("section", { class: "hi-kind" }, element("div", { class: "rm-row" }, head, this.away(kind, kinds)), element("p", {}, kind.sentence), below);
  }

  /** What needs nobody: a line until somebody wants to know. */
  folded(kind, kinds) {
    const summary = element("summary", {}, `${kind.title} (${kind.files.length})`);
    return element("details", { class: "hi-kind hi-quiet" }, summary, element("p", {}, kind.sentence), listed(kind.files), this.away(kind, kinds));
  }

  away(kind, kinds) {
    return button("Put away", () => this.putAway(kind, kinds), { class: "rm-link", "aria-label": `Put away: ${kind.title}` });
  }

  countAway(kinds) {
    const all = [...kinds, ...this.visit].flatMap((kind) => kind.files.map((file) => keyOf(kind, file)));
    return new Set(all.filter((key) => this.putBy.has(key))).size;
  }

  wayBack(kinds) {
    const count = this.countAway(kinds);
    if (!count) return [];
    const back = () => {
      this.putBy.clear();
      this.keep(kinds);
    };
    return [element("p", {}, button(`Show again what was put away (${count})`, back, { class: "rm-link" }))];
  }

  putAway(kind, kinds) {
    for (const file of kind.files) this.putBy.add(keyOf(kind, file));
    this.keep(kinds);
  }

  keep(kinds) {
    this.kept.write([...this.putBy]);
    this.show(kinds);
    // The button is gone: whoever uses keys goes on from here.
    this.node.tabIndex = -1;
    this.node.focus();
  }
}
