// How the bench is laid out: the line above all, what the instruments show beside the part that is
// open. Line and instruments stay in view while the rest is scrolled, where there is room for it.

import { element, newToken } from "./elements.js";

const LOW = 620; // where this is all the height there is, line and meter are drawn smaller

/** A group of controls under its name. @param {string} words @param {string} name @param {...(Node | string)} children */
export function benchGroup(words, name, ...children) {
  const heading = element("h4", { class: "lk-benchgroup-title", id: `lk-benchgroup-${newToken()}` }, words);
  return element("section", { class: `lk-benchgroup ${name}`, role: "group", "aria-labelledby": heading.id }, heading, ...children);
}

/** Groups in the order in which one works; `repair` is left out where nothing is repaired. */
export function benchLayout(root, { look, line, trouble, part, measure, repair }) {
  root.classList.add("lk-bench");
  root.closest(".lk-exercise")?.classList.add("lk-bench-wide");
  const above = benchGroup(
    "Look",
    "lk-look-group",
    element("div", { class: "lk-look-tools" }, ...look),
    element("div", { class: "lk-whole-line" }, line),
  );
  const body = element(
    "div",
    { class: "lk-bench-body" },
    part,
    benchGroup("Measure", "lk-measure", ...measure),
    repair ? benchGroup("Repair", "lk-repair", ...repair) : "",
  );
  staysInView(root, above);
  return [above, trouble, body];
}

// What stays in view under the line begins where the line ends, and ends where the window does, or the part of
// it in which a notebook scrolls.
function staysInView(root, above) {
  const watch = new ResizeObserver(() => {
    const scroller = scrollerOf(root);
    if (scroller) watch.observe(scroller);
    root.style.setProperty("--lk-line-room", `${above.offsetHeight}px`);
    root.style.setProperty("--lk-view-room", scroller ? `${scroller.clientHeight}px` : "100vh");
    root.classList.toggle("lk-low-room", (scroller?.clientHeight ?? innerHeight) < LOW);
  });
  watch.observe(above);
}

/** @param {Element} node @returns {Element | null} */
function scrollerOf(node) {
  const above = node.parentElement;
  if (!above || above === document.body) return null;
  return ["auto", "scroll"].includes(getComputedStyle(above).overflowY) ? above : scrollerOf(above);
}
