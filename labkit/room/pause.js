// A pause: everything that is open stands still, or one lab, until the trainer lets it go on.

import { clock } from "./asking.js";
import { button, element } from "./elements.js";

const LONGEST = 300;

// These outlast the page being shown anew: what is typed stays, and where the keys are.
const which = element("select", { class: "rm-select", "aria-label": "What to pause" });
const sentence = element("input", {
  class: "rm-input rm-sentence",
  maxlength: LONGEST,
  autocomplete: "off",
  "aria-label": "What their pages say (not needed)",
  placeholder: "What their pages say (not needed)",
});
const press = element("button", { class: "rm-button rm-small", type: "submit" }, "Pause");
const form = element("form", { class: "rm-row" }, press, which, sentence);

function offers(labs) {
  const shown = labs.map(({ id, title }) => `${id} ${title}`).join("\n");
  if (which.dataset.shown === shown) return;
  which.dataset.shown = shown;
  const before = which.value;
  which.replaceChildren(
    element("option", { value: "" }, "everything that is open"),
    ...labs.map(({ id, title }) => element("option", { value: id }, title)),
  );
  which.value = before;
  if (which.selectedIndex < 0) which.value = "";
}

/** @param {number} seconds */
function leftWords(seconds) {
  const minutes = Math.floor(seconds / 60);
  return minutes ? `${minutes} min` : `${seconds} s`;
}

/** How a paused lab stands, in words. */
function pausedWords({ since, by, sentence: said, left }) {
  const words = [`paused since ${clock(since)} by ${by}`];
  if (said) words.push(`“${said}”`);
  if (left !== null) words.push(`${leftWords(left)} left`);
  return words.join(" · ");
}

function pausedLab(lab, act) {
  const goOn = button("Go on", () => act({ act: "go on", lab: lab.id }), {
    class: "rm-button rm-small",
    "aria-label": `Go on with ${lab.title}`,
  });
  return element("li", {}, element("b", {}, lab.title), element("span", {}, pausedWords(lab.paused)), goOn);
}

/** The labs that are paused, each with its way on. */
export function pausedLabs(labs, act) {
  const paused = labs.filter((lab) => lab.paused);
  if (!paused.length) return [];
  const all = paused.length > 1 ? [button("All go on", () => act({ act: "go on", lab: "" }), { class: "rm-button rm-small" })] : [];
  return [element("ul", { class: "rm-paused" }, ...paused.map((lab) => pausedLab(lab, act))), ...all];
}

/** The way to pause what is open: one form, kept, so that nothing typed in it is lost. */
export function pauseForm(labs, act) {
  const open = labs.filter((lab) => lab.open && !lab.paused);
  form.hidden = !open.length;
  offers(open);
  form.onsubmit = async (event) => {
    event.preventDefault();
    const done = await act({ act: "pause", lab: which.value, sentence: sentence.value });
    if (done !== false) sentence.value = "";
  };
  return form;
}
