// Giving a mark or a sign-off: the same message again and again, until the room says that it is on its
// disk. A message that comes twice is one entry, and none is written over another's.

import { ask, clock, Refused } from "./asking.js";
import { button, element } from "./elements.js";

const NO_ANSWER_AFTER_MS = 15000;
const AGAIN_AFTER_MS = [500, 1000, 2000, 4000];
const NOT_SIGNED_IN = 403; // the room was opened anew: once signed in again, the same message is taken

function soon(ms) {
  return new Promise((done) => {
    const over = () => {
      clearTimeout(late);
      removeEventListener("online", over);
      done(undefined);
    };
    const late = setTimeout(over, ms);
    addEventListener("online", over);
  });
}

/** What may be asked again, as it stands: nobody answered, or the room cannot just now. */
function mayCome(error) {
  return error instanceof Refused && (error.status === 0 || error.status >= 500 || error.status === NOT_SIGNED_IN);
}

/**
 * What the room says once it has it.
 * @param {object} said
 * @param {(words: string) => void} waits - told why it is not saved yet, each time
 * @param {string} [path] - who takes it
 */
export async function kept(said, waits, path = "marking/give") {
  for (let tries = 0; ; tries += 1) {
    try {
      return await ask(path, said, AbortSignal.timeout(NO_ANSWER_AFTER_MS));
    } catch (error) {
      if (!mayCome(error)) throw error;
      waits(`Not saved yet: ${error.message} It is tried again by itself.`);
      await soon(AGAIN_AFTER_MS[Math.min(tries, AGAIN_AFTER_MS.length - 1)]);
    }
  }
}

/** HTML that the room made of a lab's own text. What a trainee wrote never comes here. */
export function prose(tag, attributes, html) {
  const made = element(tag, attributes);
  made.innerHTML = html;
  return made;
}

/** Those of the lab's text, which have the word within them, and that of the exercise: always open. */
export function cautionsOf({ cautions, caution }) {
  const own = caution && `<strong>⚠ Caution</strong>${caution}`;
  return [...cautions, own].filter(Boolean).map((html) => prose("div", { class: "mk-caution", role: "note" }, html));
}

export function plain(points) {
  return String(Math.round(points * 100) / 100);
}

/** Who gave what, and when. */
export function givenBy({ by, at, earned, note }, possible) {
  const worth = earned === null ? "" : `: ${plain(earned)} of ${plain(possible)} marks`;
  return `${by}, ${clock(at)}${worth}${note ? ` – “${note}”` : ""}`;
}

/**
 * Another trainer was there meanwhile: theirs holds until this one decides.
 * @param {any} now - what holds
 * @param {{ keep: () => void, mine: () => void }} ways
 */
export function meanwhile(now, { keep, mine }) {
  return element(
    "div",
    { class: "mk-meanwhile", role: "alert" },
    element("p", {}, element("b", {}, "Yours is not saved. "), `Meanwhile a mark was given by ${givenBy(now.given, now.possible)}.`),
    element(
      "div",
      { class: "rm-row" },
      button("Keep that one", keep, { class: "rm-button" }),
      button("Give mine instead", mine, { class: "rm-button mk-second" }),
    ),
  );
}
