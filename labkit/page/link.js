// The way between this page and its host: a socket where there can be one, plain requests where not.
// What is sent may be lost; whoever sends it sends it again until it is answered.

const AGAIN_AFTER_MS = [300, 1000, 2000, 4000, 8000];
const AWAY_AGAIN_AFTER_MS = 2000; // at most, where nobody answers at all: everybody is to be back soon
const NO_SOCKET_AFTER_MS = 5000;
const NO_ANSWER_AFTER_MS = 15000; // a request that nobody answers keeps one of few connections busy
const LOOK_EVERY_MS = 5000;
const SLEPT_MS = 15000;
const PLAIN = "desk?plain"; // says that this page has no socket: by that the trainer sees that it is open
const NO_SEAT = 4403; // the workbook is not this page's any more
export const IN_TROUBLE = 503; // the host is there, and says what is wrong
const NO_MESSAGE = 400; // the host will never take it

/**
 * @typedef {{ exercise: string, message: { token?: string } }} Said
 * @typedef {{ exercise?: string, turn?: any, saved?: any, steps?: number, by?: string, reply?: any, news?: boolean }} Heard
 * @typedef {object} Hooks
 * @property {(heard: Heard) => void} heard
 * @property {(opened: any) => void} there - the host is there, and this is the workbook as it is now
 * @property {() => void} back - it is there again: what was not answered may be sent again
 * @property {(words: string) => void} away - the host does not answer; words: it does, and says what is wrong
 * @property {(words: string) => void} refused - nothing can be saved from here any more
 */

export class Link {
  /** @param {Hooks} hooks */
  constructor(hooks) {
    this.hooks = hooks;
    /** @type {WebSocket | null} */
    this.socket = null;
    this.connecting = false;
    this.tries = 0;
    this.noSeat = false;
    this.away = false;
    this.lost = false; // something that was sent may not have come
    this.refusal = "";
    /** @type {Set<string>} */
    this.unanswered = new Set(); // of what this socket took
    /** @type {Map<string, AbortController>} */
    this.requests = new Map();
    this.looking = false;
    this.lookAgain = false;
    this.awakeAt = Date.now();
    this.connect();
    setInterval(() => this.watch(), LOOK_EVERY_MS);
    addEventListener("online", () => this.renew());
    document.addEventListener("visibilitychange", () => this.isSeen());
  }

  /** @param {Said} message */
  say(message) {
    const token = message.message.token ?? "";
    if (this.refusal) {
      queueMicrotask(() => this.refuse(message, this.refusal));
      return;
    }
    if (this.socket?.readyState === WebSocket.OPEN && !this.unanswered.has(token)) {
      this.unanswered.add(token);
      this.socket.send(JSON.stringify(message));
      return;
    }
    this.socket?.close(); // it looks open, as after a laptop's sleep, but nothing came back
    this.request(message);
  }

  connect() {
    if (this.connecting || this.socket) return;
    this.connecting = true;
    const made = new WebSocket(new URL("talk", document.baseURI.replace(/^http/, "ws")).href);
    const late = setTimeout(() => made.close(), NO_SOCKET_AFTER_MS);
    made.onopen = () => {
      clearTimeout(late);
      this.connecting = false;
      this.socket = made;
      this.unanswered = new Set();
      if (this.tries > 0) this.look();
      this.tries = 0;
    };
    made.onmessage = (event) => {
      const heard = JSON.parse(event.data);
      if (heard.news) this.look();
      else this.hear(heard);
    };
    made.onclose = ({ code }) => {
      clearTimeout(late);
      this.connecting = false;
      this.isClosed(made, code);
    };
  }

  /** @param {WebSocket} made @param {number} code */
  isClosed(made, code) {
    if (this.socket === made) {
      this.socket = null;
      this.lost = true;
    }
    this.noSeat = code === NO_SEAT;
    this.look();
    if (this.noSeat) return; // until a look finds that there is one again
    const wait = AGAIN_AFTER_MS[Math.min(this.tries, AGAIN_AFTER_MS.length - 1)];
    setTimeout(() => this.connect(), this.away ? Math.min(wait, AWAY_AGAIN_AFTER_MS) : wait);
    this.tries += 1;
  }

  // The whole workbook by a plain request: what other windows saved comes with it. One at a time, so
  // that none of them overtakes a later one.
  async look() {
    this.lookAgain = this.looking;
    if (this.looking) return;
    this.looking = true;
    try {
      const answer = await fetch(this.tries > 1 ? PLAIN : "desk", { signal: AbortSignal.timeout(NO_ANSWER_AFTER_MS) });
      if (answer.ok) this.found(await answer.json());
      else await this.failed(answer);
    } catch {
      this.isAway("");
    }
    this.looking = false;
    if (this.lookAgain) this.look();
  }

  /** @param {any} opened */
  found(opened) {
    const gone = this.noSeat || this.refusal !== "";
    this.noSeat = false;
    this.refusal = "";
    this.hooks.there(opened);
    this.isThere();
    if (gone) this.connect();
  }

  /** @param {Said} message */
  async request(message) {
    const token = message.message.token ?? "";
    this.requests.get(token)?.abort();
    const stop = new AbortController();
    this.requests.set(token, stop);
    const late = setTimeout(() => stop.abort(), NO_ANSWER_AFTER_MS);
    try {
      const answer = await fetch("say", { method: "POST", body: JSON.stringify(message), signal: stop.signal });
      await this.answered(message, answer);
    } catch {
      if (this.requests.get(token) === stop) this.isAway(""); // else the same one was sent again
    }
    clearTimeout(late);
    if (this.requests.get(token) === stop) this.requests.delete(token);
  }

  /** @param {Said} message @param {Response} answer */
  async answered(message, answer) {
    if (answer.ok) {
      this.hear(await answer.json());
      this.isThere();
      return;
    }
    if (answer.status === NO_MESSAGE) {
      this.refuse(message, await answer.text());
      this.look(); // this page may show another workbook than is worked in now
      return;
    }
    await this.failed(answer);
    if (this.refusal) this.refuse(message, this.refusal);
  }

  /** @param {Response} answer */
  async failed(answer) {
    if (answer.status === 403) {
      this.refusal = await answer.text();
      this.hooks.refused(this.refusal);
    } else this.isAway(answer.status === IN_TROUBLE ? await answer.text() : "");
  }

  /** @param {Heard} heard */
  hear(heard) {
    if (heard.reply) this.unanswered.delete(heard.reply.token);
    this.hooks.heard(heard);
  }

  /** @param {Said} message @param {string} words */
  refuse({ exercise, message: { token } }, words) {
    this.hear({ exercise, reply: { token, failed: `Not saved: ${words}` } });
  }

  /** @param {string} words */
  isAway(words) {
    this.away = this.lost = true;
    this.hooks.away(words);
  }

  isThere() {
    const back = this.lost;
    this.away = this.lost = false;
    if (back) this.hooks.back();
  }

  isSeen() {
    if (document.visibilityState !== "visible") return;
    this.awakeAt = Date.now(); // hidden pages are called seldom: that was no sleep
    this.look();
  }

  watch() {
    const now = Date.now();
    const slept = now - this.awakeAt > SLEPT_MS && document.visibilityState === "visible";
    this.awakeAt = now;
    if (slept) this.renew();
    else if (this.away) this.look();
  }

  // After a laptop's sleep a socket looks open and is deaf.
  renew() {
    this.socket?.close();
    this.look();
  }
}
