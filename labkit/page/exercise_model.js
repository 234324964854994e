// What a page module takes for its host: the state of one exercise by name, and messages both ways.

const STUCK =
  "Not saved yet. Your instructor's machine does not answer. Your answer is kept on this page and is " +
  "saved as soon as the machine is back.";

export class ExerciseModel {
  /**
   * @param {string} name
   * @param {{ shown: any, saved: any }} now
   * @param {string} drafts - under which name drafts are kept in this browser
   * @param {(said: object) => void} say
   */
  constructor(name, { shown, saved }, drafts, say) {
    this.name = name;
    this.say = say;
    /** @type {Record<string, any>} */
    this.state = { shown, saved, workbook: drafts, stuck: STUCK };
    /** @type {Map<string, ((...args: any[]) => void)[]>} */
    this.listeners = new Map();
  }

  /** @param {string} name */
  get(name) {
    return this.state[name];
  }

  on(event, heard) {
    this.listeners.set(event, [...(this.listeners.get(event) ?? []), heard]);
  }

  off(event, heard) {
    this.listeners.set(
      event,
      (this.listeners.get(event) ?? []).filter((each) => each !== heard),
    );
  }

  send(message) {
    this.say({ exercise: this.name, message });
  }

  tell(event, ...args) {
    for (const each of this.listeners.get(event) ?? []) each(...args);
  }

  /** What the host says of it. @param {any} saved @param {any} [reply] */
  takes(saved, reply) {
    if (JSON.stringify(saved) !== JSON.stringify(this.state.saved)) {
      this.state.saved = saved;
      this.tell("change:saved");
    }
    if (reply) this.tell("msg:custom", reply);
  }
}
