// The verdict on what was saved, with the working; and a worked example after two directions.

import { element } from "./elements.js";

function kindOf(verdict) {
  if (verdict.right) return "right";
  if (verdict.awaits) return "awaits";
  return verdict.readable ? "wrong" : "unreadable";
}

function headOf(kind, verdict, text, awaits) {
  if (kind === "right") return /^\s*Right\b/.test(text) ? "✓" : "✓ Right:"; // most checks begin with the word themselves
  if (kind === "wrong") return verdict.credit > 0 ? "◐ Partly right" : "✗ Not right";
  if (kind === "awaits") return "◷ Saved for your instructor";
  return awaits ? "? Saved, but there is nothing to mark yet" : "? Saved, but it cannot be read";
}

// `root` carries the verdict's kind; `awaits`: a person marks.
export function verdictBox(root, awaits) {
  const node = element("div", { class: "lk-feedback", role: "status", "aria-live": "polite" });

  function show(verdict) {
    node.classList.remove("lk-stale");
    node.replaceChildren();
    delete root.dataset.verdict;
    delete root.dataset.partly;
    if (!verdict) return;
    const kind = kindOf(verdict);
    root.dataset.verdict = kind;
    root.toggleAttribute("data-partly", kind === "wrong" && verdict.credit > 0);
    const text = element("div");
    text.innerHTML = verdict.html;
    const head = headOf(kind, verdict, text.textContent, awaits);
    node.append(element("div", { class: "lk-outcome" }, element("strong", { class: "lk-verdict" }, head), text));
    if (verdict.topic) node.append(element("p", { class: "lk-topic" }, verdict.topic));
    if (!verdict.working) return;
    const working = element("details", { class: "lk-working", open: true });
    working.innerHTML = `<summary>The working, with your numbers</summary>${verdict.working}`;
    node.append(working);
  }

  return { node, show, stale: () => node.classList.add("lk-stale") };
}

// Python's own HTML and drawing, as those of the question and of the picture of the network.
function exampleParts({ question, picture, answer, working }) {
  const part = (html, name) => {
    const node = element("div", { class: name });
    node.innerHTML = html;
    return node;
  };
  return [
    element("summary", { class: "lk-button" }, "A worked example with other numbers"),
    element("p", { class: "lk-caption" }, "The same question with other numbers: these are not yours."),
    part(question, "lk-question"),
    ...(picture ? [part(picture, "lk-example-picture")] : []),
    element("p", { class: "lk-area-title" }, "The answer"),
    part(answer, "lk-example-text"),
    element("p", { class: "lk-area-title" }, "The working"),
    part(working, "lk-example-text"),
  ];
}

export function exampleBox() {
  const node = element("details", { class: "lk-example", hidden: true });
  return {
    node,
    show(given) {
      if (given && node.hidden) node.replaceChildren(...exampleParts(given));
      node.hidden = !given; // what is unfolded stays so from one answer to the next
    },
  };
}
