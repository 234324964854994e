// Trade words are underlined; one that is pressed opens its sentence under the text that it stands in.

import { element, newToken } from "./elements.js";

const BLOCKS = "p, li, td, th, blockquote, div";

/** @param {HTMLElement} word @param {string} meaning */
function open(word, meaning) {
  const note = element("span", { class: "pg-meaning", role: "note", id: `pg-meaning-${newToken()}` });
  note.append(element("strong", {}, word.dataset.word ?? ""), `: ${meaning}`);
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

/** @param {Record<string, string>} meanings @param {Event} event */
function turn(meanings, event) {
  const word = event.target instanceof Element ? event.target.closest(".pg-word") : null;
  if (!(word instanceof HTMLElement)) return false;
  if (word.getAttribute("aria-expanded") === "true") close(word);
  else open(word, meanings[word.dataset.word ?? ""]);
  return true;
}

/** Let all trade words of the page answer. @param {Record<string, string>} meanings */
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
