// An answer that is typed and not saved yet, kept in this browser under a key.

// A browser may refuse storage (private window): the answer then lives on the page alone, and the
// status line already says that it is not saved.
/** @template T @param {() => T} act */
function orNothing(act) {
  try {
    return act();
  } catch {
    return null;
  }
}

/**
 * @typedef {{ answer: any, pending: boolean }} Draft - pending: it was sent, and not confirmed yet
 * @param {string} key
 * @returns {{ read(): Draft | null, write(draft: Draft): void, clear(): void }}
 */
export function draftStore(key) {
  return {
    read: () => orNothing(() => JSON.parse(localStorage.getItem(key) ?? "null")),
    write: (draft) => orNothing(() => localStorage.setItem(key, JSON.stringify(draft))),
    clear: () => orNothing(() => localStorage.removeItem(key)),
  };
}
