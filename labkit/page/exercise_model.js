// What a page module takes for its host: the state of one exercise by name, and messages both ways.

const STUCK =
  "Not saved yet. Your instructor's machine does not answer. Your answer is kept on this page and is " +
  "saved as soon as the machine is back.";

export class ExerciseModel {
  /**
   * @param {string} name
   * @param {any} saved
   * @param {string} drafts - under which name drafts are kept in this browser
   * @param {(said: object) => void} say
   */
  constructor(name, saved, drafts, say) {
    this.name = name;
    this.say = say;
    /** @type {Record<string, any>} */
    this.state = { saved, workbook: drafts, stuck: STUCK };
    /** Of what was heard last. @type {[string, number]} */
    this.turn = ["", 0];
    /** @type {Map<string, ((...args: any[]) => void)[]>} */
    this.listeners = new Map();
  }

  /** What is shown of it, before its page module gets it. @param {any} shown */
  shows(shown) {
    this.state.shown = shown;
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

  // Messages may pass each other on their way: what is older than what was heard is no news. A host that
  // was opened again counts anew.
  /** @param {[string, number]} turn */
  isLate([opening, number]) {
    return opening === this.turn[0] && number < this.turn[1];
  }

  /**
   * What the host says of it.
   * @param {{ turn?: any, saved?: any, reply?: any }} heard
   */
  takes({ turn, saved, reply }) {
    const news = saved && turn && !this.isLate(turn);
    if (news) this.turn = turn;
    if (news && JSON.stringify(saved) !== JSON.stringify(this.state.saved)) {
      this.state.saved = saved;
      this.tell("change:saved");
    }
    if (reply) this.tell("msg:custom", reply);
  }
}
