// What all pages of the board share: signing in, the head with its ways, work that takes long.

import { ask } from "./asking.js";
import { element } from "./elements.js";

const LOOK_AGAIN_MS = 700;

/** The parts of a class, in the order of a day. Each is a page below the class's address. */
const PARTS = [
  ["", "Class"],
  ["people", "People"],
  ["hand-ins", "Hand-ins"],
  ["marks", "Marks"],
  ["topics", "Topics"],
  ["debrief", "Debrief"],
  ["close", "Close"],
];

/** Where the class of this page is: "/class/NAME/", or "" on a page of no class. */
export function classPath() {
  return /^\/class\/[^/]+\//.exec(location.pathname)?.[0] ?? "";
}

/** A problem's sentences, a line each. @param {string} sentences */
export function problem(sentences) {
  return element("p", { class: "rm-problem", role: "alert" }, ...sentences.split("\n").flatMap((line) => [line, element("br")]));
}

/** What stands there instead of a page that cannot be shown. @param {Error} error */
function instead(error) {
  const back = element("a", { class: "rm-link", href: "/" }, "All classes");
  document.body.replaceChildren(element("main", { class: "hs-page" }, back, problem(error.message)));
}

/**
 * Show a page once somebody is signed in: the name is asked once a browser.
 * @param {(trainer: string) => void | Promise<void>} show
 */
export async function signedIn(show) {
  try {
    const known = await ask("/signed-in");
    if (!known.trainer) {
      askName(known.name, show);
      return;
    }
    history.replaceState(null, "", location.pathname + location.search);
    await show(known.trainer);
  } catch (error) {
    instead(error);
  }
}

function askName(proposed, show) {
  const key = decodeURIComponent(location.hash.slice(1));
  const input = element("input", { class: "rm-input", maxlength: 60, autocomplete: "off", value: proposed });
  const wrong = element("p", { class: "rm-problem", role: "alert" });
  const form = element(
    "form",
    { class: "rm-form" },
    element("label", { class: "rm-label" }, "Your name, as records and logs will have it", input),
    element("button", { class: "rm-button", type: "submit" }, "Go on"),
    wrong,
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      await ask("/sign-in", { key, name: input.value });
      await signedIn(show);
    } catch (error) {
      wrong.textContent = error.message;
    }
  });
  document.body.replaceChildren(element("main", { class: "rm-front" }, element("h1", {}, "labkit"), form));
  input.focus();
}

/**
 * A page of a class: its title, the ways to its parts, and below what the page is for.
 * @param {string} title - the class's
 * @param {string} part - which of the parts this page is
 * @param {...(Node | string)} children
 */
export function classPage(title, part, ...children) {
  const path = classPath();
  const words = PARTS.find(([name]) => name === part)?.[1] ?? "";
  document.title = `${words} – ${title}`;
  const ways = PARTS.map(([name, said]) =>
    element("li", {}, element("a", { href: path + name, "aria-current": name === part && "page" }, said)),
  );
  const head = element("header", { class: "hs-head" }, element("a", { class: "rm-link", href: "/" }, "All classes"), element("h1", {}, title));
  const nav = element("nav", { "aria-label": "The class" }, element("ul", { class: "hs-parts" }, ...ways));
  document.body.replaceChildren(element("div", { class: "hs-page" }, head, nav, element("main", {}, ...children)));
}

function spoken(seconds) {
  return seconds < 90 ? `${Math.max(1, Math.round(seconds))} s` : `${Math.round(seconds / 60)} min`;
}

/** Long work as a page shows it, until it is done. */
export class WorkShown {
  /**
   * @param {(told: any) => void} done - called with what the work told, once it is done on this page
   * @param {string} [below] - where it is begun and looked at: the class's own address, if nothing else is said
   */
  constructor(done, below = classPath()) {
    this.done = done;
    this.below = below;
    this.words = element("p", { role: "status" });
    this.bar = element("progress", { "aria-label": "How far it is" });
    this.node = element("div", { class: "hs-work", hidden: true }, this.words, this.bar);
    this.watching = false;
  }

  /** Look at the work until it is done; what was done before this page was opened is not told. @param {any} work - as a class's page is told it */
  async watch(work) {
    if (!work?.going_on || this.watching) return;
    this.watching = true;
    this.node.hidden = false;
    let now = work;
    while (now.going_on) {
      this.shows(now);
      await new Promise((wait) => setTimeout(wait, LOOK_AGAIN_MS));
      try {
        now = (await ask(`${this.below}work`)).work;
      } catch (error) {
        this.words.textContent = error.message;
      }
    }
    this.watching = false;
    this.node.hidden = !now.wrong.length;
    if (now.wrong.length) this.words.replaceChildren(problem(now.wrong.join("\n")));
    this.bar.hidden = true;
    this.done(now.told);
  }

  shows(now) {
    const left = now.left !== null && now.seconds > 2 ? `, about ${spoken(now.left)} left` : "";
    const far = now.of ? `: ${now.done} of ${now.of}${left}` : " …";
    this.words.textContent = `${now.what}${far}`;
    this.bar.hidden = false;
    if (now.of) {
      this.bar.max = now.of;
      this.bar.value = now.done;
    } else this.bar.removeAttribute("value");
  }

  /** Begin work, and watch it. @param {string} path - below that address @param {object} said */
  async begin(path, said) {
    this.node.hidden = false;
    try {
      await ask(this.below + path, said);
      // Short work is done already: it is watched all the same, so that its end is told.
      await this.watch({ ...(await ask(`${this.below}work`)).work, going_on: true });
    } catch (error) {
      this.words.replaceChildren(problem(error.message));
      this.bar.hidden = true;
    }
  }
}
