// Making the elements of a page. What stands here is shared by all widgets, as is its style sheet.

/**
 * An element: true sets an attribute without a value; false, null and undefined leave it out.
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Record<string, string | number | boolean | null | undefined>} [attributes]
 * @param {...(Node | string)} children
 * @returns {HTMLElementTagNameMap[Tag]}
 */
export function element(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) node.setAttribute(name, "");
    else if (value !== false && value != null) node.setAttribute(name, String(value));
  }
  node.append(...children);
  return node;
}

/**
 * @param {Node | string} words
 * @param {(event: MouseEvent) => void} press
 * @param {Record<string, string | number | boolean>} [attributes]
 */
export function button(words, press, attributes = {}) {
  const made = element("button", { type: "button", class: "lk-button", ...attributes }, words);
  made.addEventListener("click", press);
  return made;
}

/**
 * A list to choose from, in its label.
 * @param {string} words
 * @param {string[]} options
 * @param {string} value
 */
export function selectField(words, options, value) {
  const input = element(
    "select",
    { class: "lk-input lk-select" },
    ...options.map((each) => element("option", { value: each, selected: each === value }, each)),
  );
  return { input, label: element("label", { class: "lk-label" }, words, input) };
}

export function newToken() {
  return Array.from(crypto.getRandomValues(new Uint32Array(3)), (n) => n.toString(36)).join("");
}

const SVG = "http://www.w3.org/2000/svg";

/**
 * A shape of a drawing; every drawing on a page is made of these.
 * @template {keyof SVGElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Record<string, string | number>} [attributes]
 * @param {...(Node | string)} children
 * @returns {SVGElementTagNameMap[Tag]}
 */
export function shape(tag, attributes = {}, ...children) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  node.append(...children);
  return node;
}
