// What goes to Python is sent again until it is answered: it may be dead, or busy, or restarting, or its
// disk may be full. Each time is later than the one before; where a host says that it is back, at once.

import { newToken } from "./elements.js";

const AGAIN_AFTER_MS = [3000, 3000, 5000, 8000, 12000];

/**
 * What a host gives a widget: its state by name, and messages both ways. One that was away and is back
 * again tells "back".
 * @typedef {object} Model
 * @property {(name: string) => any} get
 * @property {(event: string, heard: (message: any) => void) => void} on
 * @property {(event: string, heard: (message: any) => void) => void} off
 * @property {(message: object) => void} send
 *
 * @typedef {{ do: "answer" | "hint", answer?: any, token?: string }} Message
 * @typedef {{ token: string, failed?: string, again?: boolean, reply?: any, stands?: any }} Reply
 * @typedef {(words?: string) => void} Stuck - words: what the host says of it; none where it says nothing
 */

/**
 * One message on its way, until `stop`.
 * @param {Pick<Model, "send">} model
 * @param {object} message
 * @param {Stuck} stuck
 * @param {number} [patience] - ms without a reply until it counts as none
 */
function onItsWay(model, message, stuck, patience = 0) {
  let tries = 0;
  let refused = false;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;

  function pause() {
    tries += 1;
    return Math.max(patience, AGAIN_AFTER_MS[Math.min(tries, AGAIN_AFTER_MS.length) - 1]);
  }

  function send() {
    clearTimeout(timer);
    refused = false;
    timer = setTimeout(() => {
      stuck();
      send();
    }, pause());
    try {
      model.send(message);
    } catch {
      stuck();
    }
  }

  send();
  return {
    send,
    /** The host has it and could not keep it. @param {string} words */
    refused(words) {
      clearTimeout(timer);
      refused = true;
      stuck(words);
      timer = setTimeout(send, pause());
    },
    /** Somebody presses once more: what is under way already is not hurried. */
    hurry: () => refused && send(),
    stop: () => clearTimeout(timer),
  };
}

/**
 * One message that is to be kept on disk; a new one takes the place of one that still waits. They are
 * numbered, so that one that comes late is not taken for the last.
 * @param {Pick<Model, "send">} model
 * @param {Stuck} stuck
 */
export function keeper(model, stuck) {
  const page = newToken();
  let number = 0;
  /** @type {(Message & { token: string }) | null} */
  let waiting = null;
  /** @type {ReturnType<typeof onItsWay> | undefined} */
  let way;

  return {
    /** @param {Message} message */
    keep(message) {
      way?.stop();
      number += 1;
      waiting = { ...message, token: `${page}.${number}` };
      way = onItsWay(model, waiting, stuck);
    },
    waits: () => waiting !== null,
    /** @param {any} answer */
    waitsFor: (answer) => waiting?.do === "answer" && JSON.stringify(waiting.answer) === JSON.stringify(answer),
    hurry: () => waiting && way?.hurry(),
    /** The host is back. */
    back: () => waiting && way?.send(),
    /** The message that `reply` ends, or null. @param {Reply} reply */
    answered(reply) {
      if (!waiting || reply?.token !== waiting.token) return null;
      if (reply.again) {
        way?.refused(reply.failed ?? "");
        return null;
      }
      way?.stop();
      const message = waiting;
      waiting = null;
      return message;
    },
    stop: () => way?.stop(),
  };
}

/**
 * One step at a time: the next one leaves when the reply to the one before is there.
 * heard() is called before a step's promise is kept.
 * @param {Pick<Model, "send">} model
 * @param {{ stuck: Stuck, heard(): void }} hooks
 */
export function stepQueue(model, { stuck, heard }) {
  /**
   * @typedef {object} Step
   * @property {any} data
   * @property {number} [patience] - ms without a reply until the engine is called stuck
   * @property {(reply: any) => void} resolve
   * @property {(reason: string) => void} reject
   * @property {string} token
   */
  /** @type {Step[]} */
  const steps = [];
  /** @type {ReturnType<typeof onItsWay> | undefined} */
  let way;

  function send() {
    const [{ token, data, patience }] = steps;
    way = onItsWay(model, { do: "step", token, step: data }, stuck, patience);
  }

  return {
    /** @param {any} data @param {number} [patience] @returns {Promise<any>} */
    step(data, patience) {
      return new Promise((resolve, reject) => {
        steps.push({ data, patience, resolve, reject, token: newToken() });
        if (steps.length === 1) send();
      });
    },
    /** The host is back. */
    back: () => steps.length && way?.send(),
    /** Whether `reply` is to a step of this page. @param {Reply} reply */
    answered(reply) {
      const first = steps[0];
      if (!first || reply?.token !== first.token) return false;
      if (reply.again) {
        way?.refused(reply.failed ?? "");
        return true;
      }
      way?.stop();
      steps.shift();
      heard();
      if (reply.failed) first.reject(reply.failed);
      else first.resolve(reply.reply);
      if (steps.length) send();
      return true;
    },
    stop: () => way?.stop(),
  };
}
