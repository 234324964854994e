// The way between this page and its host: a socket where there can be one, plain requests where not.
// What is sent may be lost; whoever sends it sends it again until it is answered.

const AGAIN_AFTER_MS = [300, 1000, 2000, 4000];

/**
 * @typedef {{ exercise: string, saved: any, reply?: any }} Heard
 * @typedef {{ heard(heard: Heard): void, there(is: boolean): void, refused(words: string): void }} Hooks
 * @param {Hooks} hooks - `there` says whether the host is there; each time that it comes back too
 */
export function link(hooks) {
  /** @type {WebSocket | null} */
  let socket = null;
  let tries = 0;

  function connect() {
    const made = new WebSocket(new URL("talk", document.baseURI.replace(/^http/, "ws")).href);
    made.onopen = () => {
      socket = made;
      tries = 0;
      hooks.there(true);
    };
    made.onmessage = (event) => hooks.heard(JSON.parse(event.data));
    made.onclose = () => {
      if (socket === made) socket = null;
      hooks.there(false);
      setTimeout(connect, AGAIN_AFTER_MS[Math.min(tries++, AGAIN_AFTER_MS.length - 1)]);
    };
  }

  /** @param {object} said */
  async function request(said) {
    const answer = await fetch("say", { method: "POST", body: JSON.stringify(said) });
    if (answer.status === 403) hooks.refused(await answer.text());
    if (!answer.ok) return;
    hooks.heard(await answer.json());
    hooks.there(true);
  }

  connect();
  return {
    /** @param {object} said */
    say(said) {
      if (socket?.readyState === WebSocket.OPEN) socket.send(JSON.stringify(said));
      else request(said).catch(() => hooks.there(false));
    },
  };
}
