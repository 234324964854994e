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
 * Whatever is kept in this browser under a key.
 * @template What
 * @param {string} key
 * @returns {{ read(): What | null, write(what: What): void, clear(): void }}
 */
export function keptHere(key) {
  return {
    read: () => orNothing(() => JSON.parse(localStorage.getItem(key) ?? "null")),
    write: (what) => orNothing(() => localStorage.setItem(key, JSON.stringify(what))),
    clear: () => orNothing(() => localStorage.removeItem(key)),
  };
}

/**
 * @typedef {{ answer: any, pending: boolean }} Draft - pending: it was sent, and not confirmed yet
 * @param {string} key
 * @returns {{ read(): Draft | null, write(draft: Draft): void, clear(): void }}
 */
export function draftStore(key) {
  return keptHere(key);
}
