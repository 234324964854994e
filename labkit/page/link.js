// The way between this page and its host: a socket where there can be one, plain requests where not.
// What is sent may be lost; whoever sends it sends it again until it is answered.

const AGAIN_AFTER_MS = [300, 1000, 2000, 4000, 8000];
const NO_SOCKET_AFTER_MS = 5000;
const NO_SEAT = 4403; // the workbook is not this page's any more

/**
 * @typedef {{ exercise?: string, saved?: any, steps?: number, by?: string, reply?: any, news?: boolean }} Heard
 * @typedef {object} Hooks
 * @property {(heard: Heard) => void} heard
 * @property {(opened: any) => void} there - the host is there, and this is the workbook as it is now
 * @property {() => void} away - the host does not answer
 * @property {(words: string) => void} refused
 * @param {Hooks} hooks
 */
export function link(hooks) {
  /** @type {WebSocket | null} */
  let socket = null;
  let tries = 0;
  /** @type {Set<string>} */
  const said = new Set();

  // The whole workbook by a plain request: what other windows saved comes with it.
  async function look() {
    try {
      const answer = await fetch("desk");
      if (answer.status === 403) hooks.refused(await answer.text());
      else if (answer.ok) hooks.there(await answer.json());
      else hooks.away();
    } catch {
      hooks.away();
    }
  }

  function connect() {
    const made = new WebSocket(new URL("talk", document.baseURI.replace(/^http/, "ws")).href);
    const late = setTimeout(() => made.close(), NO_SOCKET_AFTER_MS);
    made.onopen = () => {
      clearTimeout(late);
      socket = made;
      if (tries > 0) look();
      tries = 0;
    };
    made.onmessage = (event) => {
      const heard = JSON.parse(event.data);
      if (heard.news) look();
      else hooks.heard(heard);
    };
    made.onclose = ({ code }) => {
      clearTimeout(late);
      if (socket === made) socket = null;
      if (code === NO_SEAT) return look();
      setTimeout(connect, AGAIN_AFTER_MS[Math.min(tries, AGAIN_AFTER_MS.length - 1)]);
      tries += 1;
      look();
    };
  }

  /** @param {object} message */
  async function request(message) {
    const answer = await fetch("say", { method: "POST", body: JSON.stringify(message) });
    if (answer.status === 403) hooks.refused(await answer.text());
    if (answer.ok) hooks.heard(await answer.json());
    if (answer.status === 400) look(); // this page shows another workbook than is worked in now
  }

  connect();
  addEventListener("online", look);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && look());
  return {
    /** @param {{ message: { token?: string } }} message */
    say(message) {
      const token = message.message.token ?? "";
      const again = said.has(token);
      said.add(token);
      if (socket?.readyState === WebSocket.OPEN && !again) {
        socket.send(JSON.stringify(message));
        return;
      }
      socket?.close(); // it looks open, as after a laptop's sleep, but nothing came back
      request(message).catch(hooks.away);
    },
  };
}
