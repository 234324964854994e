// Messages to trainees: to one, to several or to all; who has read them; taken back while somebody has not.

import { clock } from "./asking.js";
import { button, element } from "./elements.js";

const LONGEST = 300;

/** A field to write to people in: to all of them or some. It is kept, so that nothing typed in it is lost. */
export class Writing {
  constructor(act) {
    this.act = act;
    this.people = [];
    /** @type {Set<string>} */
    this.to = new Set();
    this.text = element("textarea", { class: "rm-input rm-text", rows: 2, maxlength: LONGEST, "aria-label": "Message" });
    this.left = element("span", { class: "rm-quiet" });
    this.whom = element("fieldset", { class: "rm-whom" });
    this.send = element("button", { class: "rm-button rm-small", type: "submit" }, "Send");
    this.node = element("form", { class: "rm-message-form" }, this.whom, this.text, element("div", { class: "rm-row" }, this.send, this.left));
    this.node.addEventListener("submit", (event) => {
      event.preventDefault();
      this.sends();
    });
    this.text.addEventListener("input", () => this.counts());
    this.counts();
  }

  holds(people) {
    const names = (list) => list.map(({ id, name }) => `${id} ${name}`).join("\n");
    if (names(people) === names(this.people)) return;
    this.people = people;
    this.to = new Set([...this.to].filter((id) => people.some((one) => one.id === id)));
    this.asks();
  }

  // To all, unless somebody is chosen; to whom stands on the button too.
  asks() {
    const one = this.people.length === 1;
    this.whom.replaceChildren(
      element("legend", {}, one ? `Message to ${this.people[0].name}` : "Message to everybody, or to:"),
      ...(one ? [] : this.people.map((person) => this.choice(person))),
    );
    this.names();
  }

  choice({ id, name }) {
    const box = element("input", { type: "checkbox", value: id, checked: this.to.has(id) });
    box.addEventListener("change", () => {
      if (box.checked) this.to.add(id);
      else this.to.delete(id);
      this.names();
    });
    return element("label", { class: "rm-choice" }, box, name);
  }

  get chosen() {
    return this.people.length === 1 ? this.people : this.people.filter(({ id }) => this.to.has(id));
  }

  names() {
    const { chosen } = this;
    const many = chosen.length > 2 ? `${chosen.length} people` : chosen.map(({ name }) => name).join(" and ");
    this.send.textContent = `Send to ${many || "everybody"}`;
  }

  counts() {
    const left = LONGEST - this.text.value.length;
    this.left.textContent = left < 100 ? `${left} characters left` : "";
  }

  async sends() {
    const to = this.chosen.map(({ id }) => id);
    const done = await this.act({ act: "send", to: to.length ? to : [""], text: this.text.value });
    if (done === false) return;
    this.text.value = "";
    this.to.clear();
    this.counts();
    this.asks();
  }
}

function readWords({ to, read, taken_back: back }, names) {
  const waiting = to.filter((id) => !read.includes(id));
  const called = (ids) => ids.map((id) => names.get(id)).join(", ");
  if (!waiting.length) return to.length > 1 ? "all have read it" : "read";
  const done = read.length ? `read by ${called(read)}` : "nobody has read it yet";
  if (back) return `taken back · ${read.length ? done : "nobody had read it"}`;
  return read.length ? `${done} · not yet by ${called(waiting)}` : done;
}

function sentLine(message, names, act) {
  const { number, at, by, text, to, to_all: toAll, read, taken_back: back } = message;
  const whom = toAll ? "everybody" : to.map((id) => names.get(id)).join(", ");
  const waits = !back && to.some((id) => !read.includes(id));
  const undo = button("Take back", () => act({ act: "take back", message: number }), {
    class: "rm-link",
    "aria-label": `Take back: ${text}`,
  });
  return element(
    "li",
    { class: back ? "rm-back" : "" },
    element("div", { class: "rm-quiet" }, `${clock(at)} · ${by} to ${whom}`),
    element("div", { class: "rm-said" }, text),
    element("div", { class: "rm-quiet" }, readWords(message, names)),
    ...(waits ? [undo] : []),
  );
}

/** What was sent, the newest first, and who has read it. */
export function messagesSent(room, act) {
  const names = new Map(room.people.map(({ id, name }) => [id, name]));
  return element("ul", { class: "rm-sent", "aria-label": "Messages sent" }, ...room.messages.map((one) => sentLine(one, names, act)));
}
