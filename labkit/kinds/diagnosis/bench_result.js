// What an instrument or a repair tells. Only the sentence is read out: a log has hundreds of lines.

import { element } from "./elements.js";

const CHANGED = "The bench was changed: measure again. What you read before is kept under “What you did so far”.";

export function benchResult() {
  const told = element("p", { class: "lk-result-text", role: "status" });
  const pictures = element("div", { class: "lk-result-picture" });
  const node = element("div", { class: "lk-result", role: "group", "aria-label": "What the instruments show" }, told, pictures);
  let reading = false;

  function show(words, ...shown) {
    told.replaceChildren(...words);
    pictures.replaceChildren(...shown);
    // Where it scrolls within the bench, the keyboard must come to it.
    if (shown.length) node.setAttribute("tabindex", "0");
    else node.removeAttribute("tabindex");
  }

  return {
    node,
    /** How wide a picture may be drawn. */
    room: () => node.clientWidth,
    tell(words) {
      reading = false;
      show(words);
    },
    /** A reading, which is blanked when the bench changes. */
    reads(words, ...shown) {
      reading = true;
      show(words, ...shown);
      node.scrollTop = 0;
      node.scrollIntoView({ block: "nearest" });
    },
    blank() {
      if (reading) show([CHANGED]);
      reading = false;
    },
  };
}
