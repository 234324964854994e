// Drafts in this browser belong to one person at one workbook: who joins next on this laptop finds none.

const PREFIX = "labkit:";

/** Under which name a person's drafts of a workbook are kept. @param {string} person @param {string} workbook */
export function draftsName(person, workbook) {
  return `${encodeURIComponent(person)}:${workbook}`;
}

/** Clear what others left here. @param {string} person */
export function clearOthers(person) {
  try {
    const own = `${PREFIX}${encodeURIComponent(person)}:`;
    const others = Object.keys(localStorage).filter((key) => key.startsWith(PREFIX) && !key.startsWith(own));
    for (const key of others) localStorage.removeItem(key);
  } catch {
    // A browser may refuse storage: then nothing was left either.
  }
}
