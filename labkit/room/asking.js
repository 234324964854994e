// Asking the room: JSON there and back, and its sentence where it says no.

export class Refused extends Error {
  constructor(sentence, status) {
    super(sentence);
    this.status = status;
  }
}

/**
 * @param {string} path
 * @param {object} [said] - posted where it is there
 * @param {AbortSignal} [signal] - ends the waiting for an answer
 */
export async function ask(path, said, signal) {
  let answer;
  try {
    answer = await fetch(path, { signal, ...(said && { method: "POST", body: JSON.stringify(said) }) });
  } catch {
    throw new Refused("The trainer's machine does not answer. Is this laptop still in its network?", 0);
  }
  if (!answer.ok) throw new Refused(await answer.text(), answer.status);
  return answer.json();
}

/** A time as the clock on the wall shows it. @param {string} moment - ISO 8601 */
export function clock(moment) {
  return new Date(moment).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
}
