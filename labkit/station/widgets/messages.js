// What goes to Python is sent again until it is answered: it may be dead, or busy, or restarting.

import { newToken } from "./elements.js";

const RETRY_AFTER_MS = 3000;

function post(model, message, stuck) {
  try {
    model.send(message);
  } catch {
    stuck();
  }
}

// One message that is to be kept on disk; a new one takes the place of one that still waits.
export function keeper(model, stuck) {
  let waiting = null;
  let retry = null;

  return {
    keep(message) {
      clearInterval(retry);
      waiting = { ...message, token: newToken() };
      post(model, waiting, stuck);
      retry = setInterval(() => {
        stuck();
        post(model, waiting, stuck);
      }, RETRY_AFTER_MS);
    },
    waits: () => waiting !== null,
    waitsFor: (answer) => waiting?.do === "answer" && JSON.stringify(waiting.answer) === JSON.stringify(answer),
    // The message that `reply` answers, or null.
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

// One step at a time: the next one leaves when the reply to the one before is there.
// heard() is called before a step's promise is kept.
export function stepQueue(model, { stuck, heard }) {
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
    step(data, patience = RETRY_AFTER_MS) {
      return new Promise((resolve, reject) => {
        steps.push({ data, patience, resolve, reject, token: newToken(), timer: null });
        if (steps.length === 1) send();
      });
    },
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
