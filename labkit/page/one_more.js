// One more like this: the exercise with other numbers, as often as wanted. It counts for nothing.

import { button, element, newToken } from "./elements.js";
import { ExerciseModel } from "./exercise_model.js";
import { cautionBox, folded, html } from "./reading.js";

const AGAIN_MS = 4000;

export class OneMore {
  /**
   * @param {string} exercise
   * @param {(said: object) => void} say
   * @param {(kind: string) => Promise<any>} moduleOf
   */
  constructor(exercise, say, moduleOf) {
    this.exercise = exercise;
    this.say = say;
    this.moduleOf = moduleOf;
    /** @type {Set<string>} */
    this.sent = new Set();
    this.token = "";
    this.again = 0;
    this.press = button("One more like this", () => this.ask(), { class: "pg-button" });
    this.status = element("p", { class: "pg-told", role: "status" });
    this.place = element("div", { class: "pg-one" });
    this.node = element(
      "section",
      { class: "pg-more", "aria-label": "One more like this", hidden: true },
      element("p", { class: "pg-aside" }, "The same with other numbers, for practice. It does not count."),
      this.press,
      this.status,
      this.place,
    );
  }

  /** Whether one was drawn. */
  get drawn() {
    return this.id !== undefined;
  }

  // Another text of the lab is shown now: what was asked for and not answered is asked for no more.
  rests() {
    clearTimeout(this.again);
    if (this.token) this.status.textContent = "";
    this.token = "";
  }

  /** Offered once an answer was checked. @param {any} saved */
  shows(saved) {
    this.node.hidden = !saved.verdict;
  }

  /** Asked for from elsewhere on the page. */
  begin() {
    this.press.focus();
    this.ask();
  }

  ask() {
    this.token = newToken();
    this.status.textContent = "Drawing other numbers …";
    this.send();
  }

  // Until it is answered: what is sent may be lost.
  send() {
    clearTimeout(this.again);
    this.say({ exercise: this.exercise, message: { do: "drill", token: this.token } });
    this.again = setTimeout(() => this.send(), AGAIN_MS);
  }

  isBack() {
    if (this.token) this.send();
    this.model?.tell("back");
  }

  /** Whether a reply was for this. @param {any} reply @param {any} turn */
  takes(reply, turn) {
    if (reply.drilled) {
      if (reply.drilled.id === this.id) this.model?.takes({ ...reply.drilled, turn });
      return true;
    }
    if (reply.token === this.token && reply.again) {
      this.status.textContent = reply.failed;
      return true; // it is asked again until it is answered
    }
    if (reply.token === this.token) {
      clearTimeout(this.again);
      this.token = "";
      this.status.textContent = reply.failed ?? "";
      if (reply.drawn) this.show(reply.drawn);
      return true;
    }
    if (!this.sent.has(reply.token)) return Boolean(reply.drawn);
    this.model?.tell("msg:custom", reply);
    return true;
  }

  async show({ id, kind, shown, saved, picture, texts, cautions }) {
    this.id = id;
    const model = new ExerciseModel(this.exercise, saved, `one-more:${id}`, ({ message }) => this.wrap(id, message));
    model.shows(shown);
    this.model = model;
    const el = element("div");
    (await this.moduleOf(kind)).render({ model, el });
    const read = texts.map((each) => folded(each.heading || "Read first", html(each.html)));
    if (picture) read.unshift(folded("The network of this one", html(picture), true));
    this.place.replaceChildren(...cautions.map(cautionBox), ...read, el);
    this.press.textContent = "Another one";
    this.place.scrollIntoView({ block: "nearest" });
  }

  /** @param {string} of @param {any} message */
  wrap(of, message) {
    this.sent.add(message.token);
    this.say({ exercise: this.exercise, message: { do: "drill", of, token: message.token, message } });
  }
}
