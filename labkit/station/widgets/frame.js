// The frame around every exercise. A kind's own module imports `exercise` and ends with
// `export default { render: exercise(build) };`
//
// build(root, { shown, changed, settled }) makes the answer area and returns { get(), set(answer) }.
// It calls changed() on every keystroke and settled() when the trainee is done with a field. A kind
// that is worked on in steps calls step(data), which promises Python's reply once the step is on disk; a
// second argument says after how many ms without a reply the page may call the engine stuck.
//
// The page shows an answer as saved only when Python says that it is on disk. Until then the answer
// is also kept in this browser, so that a dead kernel or a reload does not lose it.

import { element, newToken } from "./elements.js";

const RETRY_AFTER_MS = 3000;

const WORDS = {
  empty: "No answer yet.",
  editing: "Not saved yet.",
  saving: "Saving …",
  stuck:
    "Not saved yet. The workbook's engine does not answer. Your answer is kept on this page and is " +
    "saved as soon as the engine is back; if that takes over a minute, choose Kernel → Restart Kernel.",
};

function clockTime(iso) {
  const time = new Date(iso);
  return Number.isNaN(time.getTime()) ? "" : time.toLocaleTimeString([], { hour12: false });
}

function store(key) {
  // A browser may refuse storage (private window): the answer then lives on the page alone.
  return {
    read() {
      try {
        return JSON.parse(localStorage.getItem(key));
      } catch {
        return null;
      }
    },
    write(value) {
      try {
        localStorage.setItem(key, JSON.stringify(value));
      } catch {
        /* nothing to do: the status line already says that it is not saved */
      }
    },
    clear() {
      try {
        localStorage.removeItem(key);
      } catch {
        /* as above */
      }
    },
  };
}

function marksText(marks) {
  return marks === 1 ? "1 mark" : `${marks} marks`;
}

// A question beside the button that leads to something which costs: the focus goes to the answer that
// costs nothing (WAI-ARIA practices: the least destructive one), and back to the button after it.
function askFirst(button, agreed) {
  const words = element("p", { id: `lk-question-${newToken()}` });
  const yes = element("button", { type: "button", class: "lk-button" }, "Show the hint");
  const no = element("button", { type: "button", class: "lk-button" }, "Not now");
  const choice = element("div", { class: "lk-buttons" }, yes, no);
  const node = element("div", { class: "lk-ask-first", role: "group", "aria-labelledby": words.id, hidden: true }, words, choice);

  function close() {
    node.hidden = true;
    button.setAttribute("aria-expanded", "false");
  }

  function notNow() {
    close();
    button.focus();
  }

  no.addEventListener("click", notNow);
  yes.addEventListener("click", agreed);
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
      button.setAttribute("aria-expanded", "true");
      no.focus();
    },
  };
}

// Python's own HTML and drawing, as those of the question and of the picture of the network.
function exampleParts({ question, picture, answer, working }) {
  const part = (html, name) => {
    const node = element("div", { class: name });
    node.innerHTML = html;
    return node;
  };
  const parts = [
    element("summary", { class: "lk-button" }, "A worked example with other numbers"),
    element("p", { class: "lk-caption" }, "The same question with other numbers: these are not yours."),
    part(question, "lk-question"),
  ];
  if (picture) parts.push(part(picture, "lk-example-picture"));
  parts.push(
    element("p", { class: "lk-area-title" }, "The answer"),
    part(answer, "lk-example-text"),
    element("p", { class: "lk-area-title" }, "The working"),
    part(working, "lk-example-text"),
  );
  return parts;
}

function kindOf(verdict) {
  if (verdict.right) return "right";
  if (verdict.awaits) return "awaits";
  return verdict.readable ? "wrong" : "unreadable";
}

export function exercise(build) {
  return ({ model, el }) => {
    const shown = model.get("shown");
    const kept = store(`labkit:${model.get("workbook")}:${shown.id}`);
    const headingId = `lk-heading-${newToken()}`;

    const status = element("p", { class: "lk-status", role: "status", "aria-live": "polite" });
    const feedback = element("div", { class: "lk-feedback", role: "status", "aria-live": "polite" });
    const hints = element("div", {
      class: "lk-hints", role: "group", "aria-label": "Hints", tabindex: -1, "aria-live": "polite",
    });
    const example = element("details", { class: "lk-example", hidden: true });
    const area = element("div", { class: "lk-area" });
    const question = element("div", { class: "lk-question" });
    question.innerHTML = shown.question;
    const save = element(
      "button",
      { type: "button", class: "lk-button lk-main" },
      shown.practice && !shown.awaits ? "Check my answer" : "Save my answer",
    );
    const hint = element("button", { type: "button", class: "lk-button" });
    const consent = askFirst(hint, takeHint);
    const buttons = element("div", { class: "lk-buttons" }, save);
    if (shown.hints.length) buttons.append(hint);
    const root = element(
      "section",
      { class: "lk-exercise", "aria-labelledby": headingId, "data-exercise": shown.id },
      element(
        "header",
        { class: "lk-header" },
        element("h3", { id: headingId }, `${shown.number}. ${shown.title}`),
        element("span", { class: "lk-marks" }, marksText(shown.marks)),
      ),
      question,
      area,
      buttons,
      consent.node,
      status,
      hints,
      feedback,
      example,
    );
    el.replaceChildren(root);

    let state = "empty";
    let waiting = null; // the message that Python has not confirmed yet
    let retry = null;

    function tell(next, words) {
      state = next;
      root.dataset.state = next;
      status.textContent = words ?? WORDS[next];
      status.classList.toggle("lk-warn", next === "stuck" || next === "failed");
    }

    function post() {
      try {
        model.send(waiting);
      } catch {
        tell("stuck");
      }
    }

    function askToKeep(message) {
      clearInterval(retry);
      waiting = { ...message, token: newToken() };
      consent.close();
      hint.disabled = true; // a hint now would push the answer that waits out of line
      tell("saving");
      post();
      retry = setInterval(() => {
        tell("stuck");
        post();
      }, RETRY_AFTER_MS);
    }

    function isWaiting(answer) {
      return waiting?.do === "answer" && JSON.stringify(waiting.answer) === JSON.stringify(answer);
    }

    function submit() {
      const answer = answerArea.get();
      if (isWaiting(answer)) return; // Enter and then the button: one answer
      kept.write({ answer, pending: true });
      askToKeep({ do: "answer", answer });
    }

    function askForHint() {
      const costs = shown.hints[model.get("saved").hints.length];
      if (costs > 0) consent.ask(`This hint costs ${marksText(costs)}. Show it?`);
      else takeHint();
    }

    function takeHint() {
      askToKeep({ do: "hint" });
      hints.focus(); // the button that had the focus is gone; here the hint comes
    }

    function changed() {
      kept.write({ answer: answerArea.get(), pending: false });
      if (state === "saved") feedback.classList.add("lk-stale");
      if (waiting === null) tell("editing");
    }

    function settled() {
      // In practice a check is the trainee's own decision; what nobody checks here is saved at once.
      if (shown.practice && !shown.awaits) return;
      if (state === "editing" || (waiting && !isWaiting(answerArea.get()))) submit();
    }

    function showSaved(saved) {
      consent.close();
      if (saved.answered) tell("saved", `Saved ${clockTime(saved.at)}.`);
      else tell("empty");
      showVerdict(saved.verdict);
      showExample(saved.example);
      hints.replaceChildren(
        ...saved.hints.map((html, index) => {
          const text = element("div", { class: "lk-hint" });
          const price = shown.hints[index] > 0 ? ` (${marksText(shown.hints[index])})` : "";
          text.innerHTML = `<strong>Hint ${index + 1}${price}</strong> ${html}`;
          return text;
        }),
      );
      const left = shown.hints.slice(saved.hints.length);
      hint.hidden = left.length === 0 || saved.verdict?.right === true; // no use, yet it would cost
      if (left.length) {
        const price = left[0] > 0 ? `costs ${marksText(left[0])}` : "free";
        hint.textContent = `Show a hint (${price})`;
      }
    }

    function showVerdict(verdict) {
      feedback.classList.remove("lk-stale");
      feedback.replaceChildren();
      delete root.dataset.verdict;
      if (!verdict) return;
      const kind = kindOf(verdict);
      root.dataset.verdict = kind;
      const text = element("div");
      text.innerHTML = verdict.html;
      const head = {
        // Most checks begin with the word themselves.
        right: /^\s*Right\b/.test(text.textContent) ? "✓" : "✓ Right:",
        wrong: verdict.credit > 0 ? "◐ Partly right" : "✗ Not right",
        awaits: "◷ Saved for your instructor",
        unreadable: shown.awaits ? "? Saved, but there is nothing to mark yet" : "? Saved, but it cannot be read",
      }[kind];
      feedback.append(
        element("div", { class: "lk-outcome" }, element("strong", { class: "lk-verdict" }, head), text),
      );
      if (verdict.working) {
        const working = element("details", { class: "lk-working", open: true });
        working.innerHTML = `<summary>The working, with your numbers</summary>${verdict.working}`;
        feedback.append(working);
      }
    }

    function showExample(given) {
      if (given && example.hidden) example.replaceChildren(...exampleParts(given));
      example.hidden = !given; // what is unfolded stays so from one answer to the next
    }

    // One step at a time: the next one leaves when the reply to the one before is there.
    const steps = [];

    function step(data, patience = RETRY_AFTER_MS) {
      return new Promise((resolve, reject) => {
        steps.push({ data, patience, resolve, reject, token: newToken(), timer: null });
        if (steps.length === 1) sendStep();
      });
    }

    function sendStep() {
      const first = steps[0];
      const send = () => {
        try {
          model.send({ do: "step", token: first.token, step: first.data });
        } catch {
          tell("stuck");
        }
      };
      send();
      first.timer = setInterval(() => {
        tell("stuck");
        send();
      }, first.patience);
    }

    function heardStep(message) {
      const first = steps[0];
      if (!first || message?.token !== first.token) return;
      clearInterval(first.timer);
      steps.shift();
      if (state === "stuck") showSaved(model.get("saved"));
      if (message.failed) first.reject(message.failed);
      else first.resolve(message.reply);
      if (steps.length) sendStep();
    }

    function heard(message) {
      heardStep(message);
      if (!waiting || message?.token !== waiting.token) return;
      clearInterval(retry);
      const wasAnswer = waiting.do === "answer";
      const sent = JSON.stringify(waiting.answer);
      waiting = null;
      hint.disabled = false;
      if (message.failed) {
        tell("failed", `${message.failed} Your answer is still on this page.`);
        return;
      }
      const typedOn = JSON.stringify(answerArea.get()) !== sent;
      if (wasAnswer && !typedOn) kept.clear();
      showSaved(model.get("saved"));
      if (typedOn && kept.read()) {
        tell("editing");
        if (wasAnswer) feedback.classList.add("lk-stale");
      }
    }

    function savedElsewhere() {
      // The same workbook in a second window: show what was saved there, but keep what is typed here.
      const saved = model.get("saved");
      if (waiting || kept.read()) return;
      if (saved.answered) answerArea.set(saved.answer);
      showSaved(saved);
    }

    const answerArea = build(area, { shown, changed, settled, submit, step });
    save.addEventListener("click", submit);
    hint.addEventListener("click", askForHint);
    model.on("msg:custom", heard);
    model.on("change:saved", savedElsewhere);

    const saved = model.get("saved");
    if (saved.answered) answerArea.set(saved.answer);
    showSaved(saved);
    const draft = kept.read();
    if (draft && JSON.stringify(draft.answer) === JSON.stringify(saved.answer)) kept.clear();
    else if (draft) {
      answerArea.set(draft.answer);
      feedback.classList.add("lk-stale");
      tell("editing");
      if (draft.pending) submit();
    }

    return () => {
      clearInterval(retry);
      for (const each of steps) clearInterval(each.timer);
      model.off("msg:custom", heard);
      model.off("change:saved", savedElsewhere);
    };
  };
}
