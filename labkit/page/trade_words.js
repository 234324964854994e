// Trade words are underlined; one that is pressed opens its sentence under the text that it stands in, and its
// picture, where it has one, with the part marked that the word means.

import { element, newToken } from "./elements.js";

const BLOCKS = "p, li, td, th, blockquote, div";

/** @typedef {{ sentence: string, picture?: string, part?: string }} Meaning */

/** @type {Map<string, Promise<string>>} */
const pictures = new Map();

/** @param {string} name */
async function fetched(name) {
  const answer = await fetch(`word/${name}`);
  if (!answer.ok) throw new Error(name);
  return answer.text();
}

// Without its picture the sentence stands alone: it is asked for again when the word is opened again.
/** @param {HTMLElement} note @param {string} word @param {Meaning} meaning */
async function addPicture(note, word, { picture, part }) {
  if (!picture) return;
  try {
    const coming = pictures.get(picture) ?? fetched(picture);
    pictures.set(picture, coming);
    const frame = element("span", { class: "pg-word-picture" });
    frame.innerHTML = await coming;
    const drawing = frame.firstElementChild;
    drawing?.setAttribute("aria-label", `${drawing.getAttribute("aria-label")}. Marked here: ${word}.`);
    for (const each of frame.querySelectorAll(`[data-part="${part}"]`)) each.classList.add("wp-on");
    note.append(frame);
  } catch {
    pictures.delete(picture);
  }
}

/** @param {HTMLElement} word @param {Meaning} meaning */
function open(word, meaning) {
  const note = element("span", { class: "pg-meaning", role: "note", id: `pg-meaning-${newToken()}` });
  const name = word.dataset.word ?? "";
  note.append(element("strong", {}, name), `: ${meaning.sentence}`);
  addPicture(note, name, meaning);
  word.setAttribute("aria-expanded", "true");
  word.setAttribute("aria-controls", note.id);
  (word.closest(BLOCKS) ?? word).append(note);
}

/** @param {HTMLElement} word */
function close(word) {
  document.getElementById(word.getAttribute("aria-controls") ?? "")?.remove();
  word.setAttribute("aria-expanded", "false");
  word.removeAttribute("aria-controls");
}

/** @param {Record<string, Meaning>} meanings @param {Event} event */
function turn(meanings, event) {
  const word = event.target instanceof Element ? event.target.closest(".pg-word") : null;
  if (!(word instanceof HTMLElement)) return false;
  if (word.getAttribute("aria-expanded") === "true") close(word);
  else open(word, meanings[word.dataset.word ?? ""]);
  return true;
}

/** Let all trade words of the page answer. @param {Record<string, Meaning>} meanings */
export function tradeWords(meanings) {
  document.addEventListener("click", (event) => turn(meanings, event));
  document.addEventListener("keydown", (event) => {
    if ((event.key === "Enter" || event.key === " ") && turn(meanings, event)) event.preventDefault();
    if (event.key !== "Escape") return;
    for (const word of document.querySelectorAll('.pg-word[aria-expanded="true"]')) {
      if (word instanceof HTMLElement) close(word);
    }
  });
}
