// Hints: the button, the question before one that costs, and those that are shown.

import { button, element, newToken } from "./elements.js";

export function marksText(marks) {
  return marks === 1 ? "1 mark" : `${marks} marks`;
}

// A question beside the button that leads to something which costs: the focus goes to the answer that
// costs nothing (WAI-ARIA practices: the least destructive one), and back to the button after it.
function askFirst(asker, agreed) {
  const words = element("p", { id: `lk-question-${newToken()}` });
  const yes = button("Show the hint", agreed);
  const no = button("Not now", notNow);
  const choice = element("div", { class: "lk-buttons" }, yes, no);
  const node = element(
    "div",
    { class: "lk-ask-first", role: "group", "aria-labelledby": words.id, hidden: true },
    words,
    choice,
  );

  function close() {
    node.hidden = true;
    asker.setAttribute("aria-expanded", "false");
  }

  function notNow() {
    close();
    asker.focus();
  }

  node.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Escape") notNow();
  });
  close();
  return {
    node,
    close,
    ask(question) {
      if (!node.hidden) return notNow();
      words.textContent = question;
      node.hidden = false;
      asker.setAttribute("aria-expanded", "true");
      no.focus();
    },
  };
}

// costs: the marks of each hint; taken() says how many are shown; take() asks Python for the next.
export function hintBox(costs, { take, taken }) {
  const list = element("div", {
    class: "lk-hints",
    role: "group",
    "aria-label": "Hints",
    tabindex: -1,
    "aria-live": "polite",
  });
  const asker = button("", () => {
    const price = costs[taken()];
    if (price > 0) consent.ask(`This hint costs ${marksText(price)}. Show it?`);
    else agreed();
  });
  const consent = askFirst(asker, agreed);

  function agreed() {
    take();
    list.focus(); // the button that had the focus is gone; here the hint comes
  }

  function hint(html, index) {
    const text = element("div", { class: "lk-hint" });
    const price = costs[index] > 0 ? ` (${marksText(costs[index])})` : "";
    text.innerHTML = `<strong>Hint ${index + 1}${price}</strong> ${html}`;
    return text;
  }

  return {
    button: asker,
    consent: consent.node,
    list,
    wait() {
      consent.close();
      asker.disabled = true; // a hint now would push the answer that waits out of line
    },
    go() {
      asker.disabled = false;
    },
    show({ hints, verdict }) {
      consent.close();
      list.replaceChildren(...hints.map(hint));
      const [next] = costs.slice(hints.length);
      asker.hidden = next === undefined || verdict?.right === true; // no use, yet it would cost
      if (next !== undefined) asker.textContent = `Show a hint (${next > 0 ? `costs ${marksText(next)}` : "free"})`;
    },
  };
}
