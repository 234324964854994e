// The first page of the board: the classes, and the way to begin one.

import { ask } from "./asking.js";
import { element } from "./elements.js";
import { problem, signedIn } from "./house.js";

function state(one) {
  if (one.scored) return "scored";
  return one.dealt ? "dealt" : "not dealt yet";
}

function listed(one) {
  const href = `/class/${encodeURIComponent(one.name)}/`;
  if (one.wrong) return element("li", {}, element("b", {}, one.name), problem(one.wrong.join("\n")));
  const words = [one.date, one.place, `${one.labs} ${one.labs === 1 ? "lab" : "labs"}`, state(one)].filter(Boolean).join(" · ");
  return element("li", {}, element("a", { href }, one.title), element("p", { class: "rm-quiet" }, words));
}

signedIn(async () => {
  const known = await ask("/classes");
  document.title = "Classes – labkit";
  const list = known.classes.length
    ? element("ul", { class: "hs-classes" }, ...known.classes.map(listed))
    : element("p", {}, "No class yet.");
  document.body.replaceChildren(
    element(
      "main",
      { class: "hs-page" },
      element("h1", {}, "Classes"),
      element(
        "div",
        { class: "rm-row" },
        element("a", { class: "rm-button", href: "/begin" }, "Begin a class"),
        element("a", { class: "rm-link", href: "/year" }, "People and labs across classes"),
      ),
      list,
      element("p", { class: "rm-quiet" }, `They lie in ${known.folder}`),
    ),
  );
});
