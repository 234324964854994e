import { element } from "./elements.js";

// A caution that stands before the place to answer; nothing where the author gives none.
export function cautionBox(html) {
  if (!html) return "";
  const words = element("div");
  words.innerHTML = html;
  return element(
    "div",
    { class: "lk-caution", role: "note" },
    element("strong", {}, "⚠ Caution"),
    words,
  );
}
