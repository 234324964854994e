// How an exercise stands, in a sign and in words. An assessed one is open or saved: no verdict is sent.
// Once results are released, a mark says it where the page itself knows no more.

export const STATES = {
  open: { sign: "○", words: "open" },
  saved: { sign: "●", words: "saved" },
  right: { sign: "✓", words: "right" },
  partly: { sign: "◐", words: "partly right" },
  wrong: { sign: "↻", words: "not right yet" },
  unreadable: { sign: "?", words: "cannot be read" },
  awaits: { sign: "◷", words: "waits for your instructor" },
  missed: { sign: "✗", words: "not right" },
  blank: { sign: "○", words: "no answer" },
  voided: { sign: "–", words: "not counted" },
};

/** @type {Record<string, keyof typeof STATES>} */
const OF_MARKS = { right: "right", partly: "partly", wrong: "missed", blank: "blank", waits: "awaits", voided: "voided" };

/**
 * @param {{ answered: boolean, verdict: any }} saved
 * @param {{ state: string } | null} [mark] - released
 * @returns {keyof typeof STATES}
 */
export function stateOf({ answered, verdict }, mark = null) {
  if (mark && !(answered && verdict?.readable)) return OF_MARKS[mark.state];
  if (!answered) return "open";
  if (!verdict) return "saved";
  if (!verdict.readable) return "unreadable";
  if (verdict.awaits) return "awaits";
  if (verdict.right) return "right";
  return verdict.credit > 0 ? "partly" : "wrong";
}

/**
 * How it came to that: tries and hints, in words.
 * @param {keyof typeof STATES} state @param {number} tries @param {number} hints
 */
export function howWords(state, tries, hints) {
  const helped = hints ? `with ${hints} hint${hints > 1 ? "s" : ""}` : "";
  if (state === "right") {
    const right = tries > 1 ? `right after ${tries} tries` : "right at the first try";
    return [right, helped].filter(Boolean).join(", ");
  }
  if (state === "blank") return STATES.blank.words;
  if (state === "open" || state === "saved" || state === "awaits" || state === "voided") return "";
  return [STATES[state].words, tries > 1 ? `${tries} tries` : "", helped].filter(Boolean).join(", ");
}
