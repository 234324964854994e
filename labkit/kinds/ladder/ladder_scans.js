// What goes to and fro while a program is tried at the panel: moments there, images back.
//
// A moment waits until the answer to it is here, and goes along with the next message: so no press
// gets lost, however short it was.

import { newToken } from "./elements.js";

export class Scans {
  // heard(tried) is called with each answer, the image kept before.
  constructor(model, editor, heard) {
    this.model = model;
    this.editor = editor;
    this.hear = (message) => {
      if (!message?.tried || message.token !== this.token) return;
      this.image = message.tried.image;
      this.moments = this.moments.slice(this.sent);
      heard(message.tried);
    };
    model.on("msg:custom", this.hear);
    this.clear();
  }

  // As before the first scan: everything off, nothing on its way.
  clear() {
    this.token = null;
    this.image = {};
    this.moments = [];
    this.count = 0;
  }

  // These acts are done; one scan, or as many as it takes until nothing changes. `line` says how the
  // line is. Says whether it could be sent.
  moment(acts, single, line) {
    this.count = single ? this.count + 1 : 0;
    this.moments.push(acts);
    this.sent = this.moments.length;
    this.token = newToken();
    const scans = single ? "one" : "rest";
    try {
      this.model.send({ do: "try", token: this.token, program: this.editor.get(), acts: this.moments, memory: this.image, scans, line });
      return true;
    } catch {
      return false;
    }
  }

  off() {
    this.model.off("msg:custom", this.hear);
  }
}
