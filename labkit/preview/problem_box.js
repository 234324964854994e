// One thing that is wrong: where, the line as it is written, what it is and what mends it.

import { element } from "./elements.js";

/**
 * @typedef {{ where: string, line: number, field: string, source: string, sentence: string, mend: string,
 *   exercise: string, seed?: string, id?: string, severity?: string, because?: string }} Wrong
 */

/** @param {Wrong} wrong */
export function problemBox({ where, field, source, sentence, mend, id = "", severity = "must be mended", because = "" }) {
  const box = element(
    "div",
    { class: "pv-problem", "data-severity": severity },
    element("p", { class: "pv-where" }, where, ...(field ? [element("span", { class: "pv-field" }, ` · ${field}`)] : [])),
  );
  if (source) box.append(element("pre", { class: "pv-source", tabindex: 0 }, element("code", {}, source)));
  box.append(element("p", { class: "pv-sentence" }, sentence));
  if (because) box.append(element("p", { class: "pv-mend" }, `Accepted: ${because}`));
  else if (mend) box.append(element("p", { class: "pv-mend" }, mend));
  if (id) box.append(element("p", { class: "pv-id" }, id));
  return box;
}
