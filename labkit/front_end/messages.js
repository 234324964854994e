// What goes to Python is sent again until it is answered: it may be dead, or busy, or restarting.

import { newToken } from "./elements.js";

const RETRY_AFTER_MS = 3000;

/** @param {Pick<Model, "send">} model @param {object} message @param {() => void} stuck */
function post(model, message, stuck) {
  try {
    model.send(message);
  } catch {
    stuck();
  }
}

/**
 * What a host gives a widget: its state by name, and messages both ways.
 * @typedef {object} Model
 * @property {(name: string) => any} get
 * @property {(event: string, heard: (message: any) => void) => void} on
 * @property {(event: string, heard: (message: any) => void) => void} off
 * @property {(message: object) => void} send
 *
 * @typedef {{ do: "answer" | "hint", answer?: any, token?: string }} Message
 * @typedef {{ token: string, failed?: string, reply?: any, stands?: any }} Reply
 */

/**
 * One message that is to be kept on disk; a new one takes the place of one that still waits.
 * @param {Pick<Model, "send">} model
 * @param {() => void} stuck
 */
export function keeper(model, stuck) {
  /** @type {Message | null} */
  let waiting = null;
  /** @type {number | undefined} */
  let retry;

  return {
    /** @param {Message} message */
    keep(message) {
      clearInterval(retry);
      const sent = { ...message, token: newToken() };
      waiting = sent;
      post(model, sent, stuck);
      retry = setInterval(() => {
        stuck();
        post(model, sent, stuck);
      }, RETRY_AFTER_MS);
    },
    waits: () => waiting !== null,
    /** @param {any} answer */
    waitsFor: (answer) => waiting?.do === "answer" && JSON.stringify(waiting.answer) === JSON.stringify(answer),
    /** The message that `reply` answers, or null. @param {Reply} reply */
    answered(reply) {
      if (!waiting || reply?.token !== waiting.token) return null;
      clearInterval(retry);
      const message = waiting;
      waiting = null;
      return message;
    },
    stop: () => clearInterval(retry),
  };
}

/**
 * One step at a time: the next one leaves when the reply to the one before is there.
 * heard() is called before a step's promise is kept.
 * @param {Pick<Model, "send">} model
 * @param {{ stuck(): void, heard(): void }} hooks
 */
export function stepQueue(model, { stuck, heard }) {
  /**
   * @typedef {object} Step
   * @property {any} data
   * @property {number} patience - ms without a reply until the engine is called stuck
   * @property {(reply: any) => void} resolve
   * @property {(reason: string) => void} reject
   * @property {string} token
   * @property {number} [timer]
   */
  /** @type {Step[]} */
  const steps = [];

  function send() {
    const first = steps[0];
    const message = { do: "step", token: first.token, step: first.data };
    post(model, message, stuck);
    first.timer = setInterval(() => {
      stuck();
      post(model, message, stuck);
    }, first.patience);
  }

  return {
    /** @param {any} data @param {number} [patience] @returns {Promise<any>} */
    step(data, patience = RETRY_AFTER_MS) {
      return new Promise((resolve, reject) => {
        steps.push({ data, patience, resolve, reject, token: newToken() });
        if (steps.length === 1) send();
      });
    },
    /** @param {Reply} reply */
    answered(reply) {
      const first = steps[0];
      if (!first || reply?.token !== first.token) return;
      clearInterval(first.timer);
      steps.shift();
      heard();
      if (reply.failed) first.reject(reply.failed);
      else first.resolve(reply.reply);
      if (steps.length) send();
    },
    stop() {
      for (const each of steps) clearInterval(each.timer);
    },
  };
}
