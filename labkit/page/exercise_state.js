// How an exercise stands, in a sign and in words. An assessed one is open or saved: no verdict is sent.

export const STATES = {
  open: { sign: "○", words: "open" },
  saved: { sign: "●", words: "saved" },
  right: { sign: "✓", words: "right" },
  partly: { sign: "◐", words: "partly right" },
  wrong: { sign: "↻", words: "not right yet" },
  unreadable: { sign: "?", words: "cannot be read" },
  awaits: { sign: "◷", words: "waits for your instructor" },
};

/**
 * @param {{ answered: boolean, verdict: any }} saved
 * @returns {keyof typeof STATES}
 */
export function stateOf({ answered, verdict }) {
  if (!answered) return "open";
  if (!verdict) return "saved";
  if (!verdict.readable) return "unreadable";
  if (verdict.awaits) return "awaits";
  if (verdict.right) return "right";
  return verdict.credit > 0 ? "partly" : "wrong";
}
