// The first page: join by the code on a card or by name, then the labs of whoever joined.

import { ask, clock } from "./asking.js";
import { button, element } from "./elements.js";
import { FromTrainer } from "./from_trainer.js";
import { madeOf, stateWords } from "./warm_up_words.js";

const ASK_AGAIN_MS = 2000;
const trainer = new FromTrainer();
let seen = "";

function shown(...nodes) {
  document.body.replaceChildren(element("main", { class: "rm-front" }, ...nodes));
}

function problem() {
  return element("p", { class: "rm-problem", role: "alert" });
}

/** @param {string} words @param {Record<string, string | number | boolean>} attributes */
function field(words, attributes) {
  const input = element("input", { class: "rm-input", autocomplete: "off", spellcheck: "false", ...attributes });
  return { input, label: element("label", { class: "rm-label" }, words, input) };
}

/** @param {() => Promise<void>} submit @param {...(Node | string)} nodes */
function form(submit, ...nodes) {
  const said = problem();
  const made = element("form", { class: "rm-form" }, ...nodes, said);
  made.addEventListener("submit", async (event) => {
    event.preventDefault();
    said.textContent = "";
    try {
      await submit();
    } catch (error) {
      said.textContent = error.message;
    }
  });
  return made;
}

const go = (words) => element("button", { class: "rm-button", type: "submit" }, words);

/** @param {string} title @param {string} [code] */
function joining(title, code = "") {
  const { input, label } = field("The six characters on your card", {
    class: "rm-input rm-code",
    maxlength: 20,
    value: code,
    autocapitalize: "characters",
  });
  shown(
    element("h1", {}, title),
    form(() => join(input.value), label, go("Join")),
    element(
      "p",
      { class: "rm-quiet" },
      button("I have no card", () => asking(title), { class: "rm-link" }),
    ),
  );
  input.focus();
}

/** @param {string} code @param {boolean} [take] */
async function join(code, take = false) {
  const { question } = await ask("join", { code, take });
  if (!question) return here();
  shown(
    element("h1", {}, question),
    element("p", {}, "If that is you, go on here. The page on the other device then closes; every saved answer is kept."),
    element(
      "div",
      { class: "rm-row" },
      button("Go on here", () => join(code, true).catch(begin), { class: "rm-button" }),
      button("No, that is not me", begin, { class: "rm-link" }),
    ),
  );
}

/** @param {string} title */
function asking(title) {
  const { input, label } = field("Your name", { maxlength: 60 });
  shown(
    element("h1", {}, title),
    form(
      async () => {
        await ask("ask", { name: input.value });
        waiting(title);
      },
      label,
      go("Ask to be let in"),
    ),
    element("p", { class: "rm-quiet" }, button("I have a card", () => joining(title), { class: "rm-link" })),
  );
  input.focus();
}

/** @param {string} title */
function waiting(title) {
  shown(
    element("h1", {}, title),
    element("p", { role: "status" }, "Your instructor sees your name. Wait until you are let in."),
  );
  const again = async () => {
    try {
      const { waits } = await ask("asked", {});
      if (waits) setTimeout(again, ASK_AGAIN_MS);
      else here();
    } catch (error) {
      joining(title);
      /** @type {Element} */ (document.querySelector(".rm-problem")).textContent = error.message;
    }
  };
  setTimeout(again, ASK_AGAIN_MS);
}

function stateOf(lab) {
  if (lab.receipt) return `Handed in at ${clock(lab.receipt.at)} · receipt ${lab.receipt.code}`;
  if (lab.opens) return `Opens at ${clock(lab.opens)}`;
  if (lab.shut) return lab.shut;
  if (lab.ends) return `Open until ${clock(lab.ends)}`;
  return "Open";
}

function labCard(lab) {
  const card = element("li", { class: "rm-lab" }, element("h2", {}, lab.title));
  const kind = lab.practice ? "Practice" : "Assessed";
  card.append(element("p", { class: "rm-quiet" }, lab.minutes ? `${kind} · about ${lab.minutes} minutes` : kind));
  card.append(element("p", { class: "rm-state" }, stateOf(lab)));
  if (lab.together) card.append(element("p", {}, `Together with ${lab.together}`));
  const ways = element("div", { class: "rm-row" });
  if (lab.may_see) {
    const words = lab.shut ? "Look at it" : lab.receipt || lab.begun ? "Go on" : "Begin";
    ways.append(element("a", { class: "rm-button", href: `lab/${encodeURIComponent(lab.id)}/` }, words));
  }
  if (lab.results) {
    // On the page that was worked on; what came in by other ways is shown on a page of its own.
    const place = lab.may_see ? "#_hand-in" : "results";
    ways.append(element("a", { class: "rm-link", href: `lab/${encodeURIComponent(lab.id)}/${place}` }, "Your results"));
  }
  if (ways.children.length) card.append(ways);
  return card;
}

/** The morning's warm-up: what went wrong last time, asked again in new numbers. @param {any} warmUp */
function warmUpCard(warmUp) {
  const { questions } = warmUp;
  const left = questions.filter(({ right }) => right === null).length;
  const list = questions.map(({ lab, lab_title: of, exercise, title, right }) => {
    const way = `lab/${encodeURIComponent(lab)}/?warm-up#more:${encodeURIComponent(exercise)}`;
    const state = element("b", { class: "rm-warm-state" }, stateWords(right));
    return element("li", {}, element("a", { class: "rm-link", href: way }, title), element("span", { class: "rm-quiet" }, ` · ${of}`), state);
  });
  const go = left
    ? element("a", { class: "rm-button", href: "warm-up/next" }, left === questions.length ? "Begin" : "Next question")
    : element("p", {}, "All answered. Each can be asked again.");
  return element(
    "section",
    { class: "rm-lab rm-warm", "aria-labelledby": "rm-warm" },
    element("h2", { id: "rm-warm" }, "Warm-up"),
    element("p", {}, madeOf(warmUp)),
    element("ol", {}, ...list),
    go,
  );
}

async function leave() {
  localStorage.clear();
  sessionStorage.clear();
  await ask("leave", {});
  begin();
}

function labsOf({ class_title: title, name, labs, warm_up: warmUp }) {
  shown(
    element("h1", {}, title),
    element(
      "p",
      {},
      `You are ${name}. `,
      button("That is not me", () => leave().catch(begin), { class: "rm-link" }),
    ),
    ...(warmUp ? [warmUpCard(warmUp)] : []),
    element("ul", { class: "rm-labs" }, ...labs.map(labCard)),
  );
  document.body.prepend(trainer.node);
}

async function here() {
  const seat = await ask("seat");
  if (!seat.name) return seat;
  trainer.holds(seat);
  const { messages, ...rest } = seat;
  const now = JSON.stringify(rest);
  // Or who is there with the keys would lose their place.
  if (now !== seen || !document.querySelector(".rm-labs")) labsOf(seat);
  seen = now;
  return seat;
}

// A card's square code leads here with its six characters.
async function begin() {
  const code = decodeURIComponent(location.hash.slice(1));
  history.replaceState(null, "", location.pathname);
  try {
    const seat = await here();
    if (!seat.name) joining(seat.class_title, code);
  } catch (error) {
    shown(element("p", { role: "alert" }, error.message), button("Try again", begin, { class: "rm-button" }));
  }
}

// Labs are opened and closed while this page stands there.
setInterval(() => document.querySelector(".rm-labs") && here().catch(() => {}), 5000);
begin();
