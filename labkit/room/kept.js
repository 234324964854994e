// A page that is looked at all day: what is shown changes in place, and nothing is torn from under a hand.

/** @param {Node} node @param {string} words */
export function say(node, words) {
  if (node.textContent !== words) node.textContent = words;
}

/** Whether somebody types or chooses there. @param {Element} node */
function isInUse(node) {
  const at = document.activeElement;
  const typedIn = [HTMLSelectElement, HTMLInputElement, HTMLTextAreaElement];
  return node.contains(at) && typedIn.some((each) => at instanceof each);
}

/** Change something, the focus afterwards where it was: at what has the same name. @param {Element} node @param {() => void} change */
function withFocus(node, change) {
  const at = document.activeElement;
  const name = (each) => each.getAttribute("aria-label") ?? each.textContent;
  const held = at instanceof HTMLElement && node.contains(at) ? { at, tag: at.tagName, name: name(at) } : null;
  change();
  if (!held || document.activeElement === held.at) return;
  const there = node.contains(held.at) ? held.at : [...node.querySelectorAll(held.tag)].find((each) => name(each) === held.name);
  if (there instanceof HTMLElement) there.focus({ preventScroll: true });
}

/** A part of the page that is made anew only where what it shows changed, and while nobody chooses in it. */
export class Fresh {
  /** @param {HTMLElement} node @param {(...shown: any[]) => (Node | string)[]} make */
  constructor(node, make) {
    this.node = node;
    this.make = make;
    this.before = "";
  }

  /** @param {...any} shown - plain data, all that it is made of */
  shows(...shown) {
    const now = JSON.stringify(shown);
    if (now === this.before || isInUse(this.node)) return;
    this.before = now;
    withFocus(this.node, () => this.node.replaceChildren(...this.make(...shown)));
  }
}

/** One child for each of a list, kept as long as it is in the list: new ones are made, gone ones taken out. */
export class Each {
  /** @param {HTMLElement} node @param {(one: any) => { nodes: HTMLElement[] }} make */
  constructor(node, make) {
    this.node = node;
    this.make = make;
    /** @type {Map<string, any>} */
    this.kept = new Map();
  }

  /** Those of the list in its order. @param {string[]} names @param {(name: string) => any} one */
  of(names, one) {
    const wanted = new Set(names);
    for (const [name, { nodes }] of this.kept) {
      if (wanted.has(name)) continue;
      for (const node of nodes) node.remove();
      this.kept.delete(name);
    }
    for (const name of names) if (!this.kept.has(name)) this.kept.set(name, this.make(one(name)));
    const order = names.flatMap((name) => this.kept.get(name).nodes);
    const same = order.length === this.node.children.length && order.every((node, at) => node === this.node.children[at]);
    if (!same && !isInUse(this.node)) withFocus(this.node, () => this.node.append(...order));
    return names.map((name) => this.kept.get(name));
  }
}
