// What the morning's warm-up says of itself, in the room and in a notebook.

const TALLY = ["No", "One", "Two", "Three", "Four", "Five"];

/** How a question's first answer of today went. @param {boolean | null} right */
export function stateWords(right) {
  if (right === null) return "";
  return right ? " ✓ right" : " ✗ not right";
}

/** Of what it is made. @param {{ day: string, yesterday: boolean, questions: unknown[] }} warmUp */
export function madeOf({ day, yesterday, questions }) {
  const date = new Date(`${day}T12:00`).toLocaleDateString([], { day: "numeric", month: "long" });
  const when = yesterday ? "yesterday's mistakes" : `your mistakes of ${date}`;
  const many = `${TALLY[questions.length]} ${questions.length === 1 ? "question" : "questions"}`;
  return `${many} from ${when}, in new numbers. They count for nothing.`;
}
