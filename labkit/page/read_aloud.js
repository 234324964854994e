// The question read aloud by a voice of the browser's own. Where there is none, there is no button.

import { button } from "./elements.js";

// Only voices of this machine: others send the text away.
function ownVoice() {
  const voices = "speechSynthesis" in window ? speechSynthesis.getVoices() : [];
  return voices.find((voice) => voice.localService && voice.lang.toLowerCase().startsWith("en"));
}

/** @param {() => string} text - what is to be read */
export function readAloud(text) {
  const node = button("Read aloud", press, { class: "pg-button pg-aloud", "aria-pressed": "false", hidden: true });

  function ended() {
    node.setAttribute("aria-pressed", "false");
    node.textContent = "Read aloud";
  }

  function stop() {
    if (node.getAttribute("aria-pressed") === "true") speechSynthesis.cancel();
    ended();
  }

  function press() {
    if (node.getAttribute("aria-pressed") === "true") return stop();
    const voice = ownVoice();
    if (!voice) return;
    const words = new SpeechSynthesisUtterance(text());
    words.voice = voice;
    words.lang = voice.lang;
    words.rate = 0.9;
    words.onend = ended;
    words.onerror = ended;
    speechSynthesis.cancel();
    speechSynthesis.speak(words);
    node.setAttribute("aria-pressed", "true");
    node.textContent = "Stop reading";
  }

  function look() {
    node.hidden = !ownVoice();
  }

  look();
  if ("speechSynthesis" in window) speechSynthesis.addEventListener("voiceschanged", look);
  return { node, stop };
}
