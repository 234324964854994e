// In the head of a trainee's page that was opened from the warm-up: the way to its next question.

import { element } from "./elements.js";

class WarmUp {
  constructor() {
    const here = new URLSearchParams(location.search).has("warm-up");
    this.node = element("a", { class: "pg-button wu-next", hidden: !here }, "Warm-up: next question →");
    this.lab = decodeURIComponent(/\/lab\/([^/]+)\//.exec(location.pathname)?.[1] ?? "");
    this.isAt("");
  }

  /** @param {string} name */
  isAt(name) {
    this.node.href = `/warm-up/next?${new URLSearchParams({ lab: this.lab, exercise: name })}`;
  }

  // The room has nothing to say of it.
  holds() {}
}

export function begin() {
  document.head.append(element("link", { rel: "stylesheet", href: "/own/warm_up.css" }));
  return new WarmUp();
}
