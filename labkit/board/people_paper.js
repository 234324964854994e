// Cards and handouts: what is printed for the people of a class.

import { clock } from "./asking.js";
import { button, element } from "./elements.js";
import { classPath } from "./house.js";

const NAMES = { "cards.html": "Cards", "all-handouts.html": "Everybody's handouts", "instructors-copy.html": "Your copy with the answers" };
const ANOTHER = "another";

/** What is chosen is kept while the page asks anew. */
const kept = { address: null, typed: "", size: "A4", open: false };

function choice(name, options) {
  const select = element("select", { class: "rm-select pp-wide" }, ...options.map(([value, words]) => element("option", { value }, words)));
  if (options.some(([value]) => value === kept[name])) select.value = kept[name];
  select.addEventListener("change", () => {
    kept[name] = select.value;
  });
  return select;
}

function when(moment) {
  const today = new Date(moment).toDateString() === new Date().toDateString();
  return today ? `${clock(moment)} today` : new Date(moment).toLocaleDateString();
}

function linkTo(name, words) {
  return element("a", { class: "rm-link", href: `${classPath()}people/paper/${name}`, target: "_blank", rel: "noopener" }, words);
}

function printed(one) {
  const pdf = one.pdf ? [" · ", linkTo(one.pdf, "PDF")] : [];
  return element("li", {}, linkTo(one.name, NAMES[one.name]), ...pdf, element("span", { class: "rm-quiet" }, ` written ${when(one.written)}`));
}

/**
 * @param {any} now - the class as it was told
 * @param {(path: string, said: object) => Promise<void>} begin - begins long work
 */
export function paperBox(now, begin) {
  const address = choice("address", [
    ...now.addresses.map((one) => [one.address, `${one.address} – ${one.words}`]),
    [ANOTHER, "another address"],
    ["", "none: a line to write it on"],
  ]);
  const typed = element("input", { class: "rm-input", autocomplete: "off", placeholder: "http://192.0.2.7:8642", "aria-label": "The room's address", value: kept.typed });
  const size = choice("size", [["A4", "A4"], ["Letter", "Letter"]]);
  const typing = () => {
    typed.hidden = address.value !== ANOTHER;
  };
  typed.addEventListener("input", () => {
    kept.typed = typed.value;
  });
  address.addEventListener("change", typing);
  typing();
  const print = (what) => () => {
    const at = address.value === ANOTHER ? typed.value : address.value;
    begin("people/print", { what, paper: size.value, address: what === "cards" ? at : "" });
  };
  const dealt = now.people.some((person) => person.dealt.some(Boolean));
  const box = element(
    "details",
    { class: "hs-box pp-fold", open: kept.open },
    element("summary", {}, "On paper"),
    element(
      "div",
      { class: "rm-form pp-form" },
      element("label", { class: "rm-label" }, "Paper in the printer", size),
      element("label", { class: "rm-label" }, "The room's address on the cards", address),
      typed,
      button("Print cards", print("cards"), { class: "rm-button" }),
      element("p", { class: "rm-quiet" }, "To join the room: one for everybody, to cut apart. Who has somebody's card can join as them."),
      ...(dealt
        ? [button("Print handouts", print("handouts"), { class: "rm-button" }), element("p", { class: "rm-quiet" }, "Workbooks on paper, to answer with a pen, and your copy with the answers.")]
        : [element("p", { class: "rm-quiet" }, "Handouts can be printed once workbooks are dealt.")]),
    ),
    ...(now.paper.length ? [element("ul", { class: "hs-list" }, ...now.paper.map(printed))] : []),
    ...(now.can_pdf ? [] : [element("p", { class: "rm-quiet" }, "No Chromium was found for PDF: open a page and print it from there, without headers and footers.")]),
  );
  box.addEventListener("toggle", () => {
    kept.open = box.open;
  });
  return [box];
}
