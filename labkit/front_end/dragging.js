// Dragging by pointer (mouse, pen or finger) inside an answer area.
//
// dragging(root) returns { start(event, label, { over, drop, end }), justEnded() }. A press that hardly
// moves is a click and left to the page; the click that ends a drag is told apart by justEnded().

import { element } from "./elements.js";

const DRAG_FROM = 4; // px

export function dragging(root) {
  let ended = false;
  root.classList.add("lk-dragging-area");

  function start(event, label, { over, drop, end }) {
    if (event.button !== 0) return;
    const from = { x: event.clientX, y: event.clientY };
    let ghost = null;

    function move(moved) {
      if (!ghost && Math.hypot(moved.clientX - from.x, moved.clientY - from.y) < DRAG_FROM) return;
      if (!ghost) {
        ghost = element("div", { class: "lk-ghost", "aria-hidden": "true" }, label);
        root.append(ghost);
      }
      const box = root.getBoundingClientRect();
      ghost.style.left = `${moved.clientX - box.left + 10}px`;
      ghost.style.top = `${moved.clientY - box.top + 10}px`;
      over(moved.clientX, moved.clientY);
      moved.preventDefault();
    }

    function finish(last) {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", finish);
      window.removeEventListener("pointercancel", finish);
      end();
      if (!ghost) return;
      ghost.remove();
      ended = true;
      setTimeout(() => (ended = false));
      if (last.type === "pointerup") drop(last.clientX, last.clientY);
    }

    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", finish);
    window.addEventListener("pointercancel", finish);
  }

  return { start, justEnded: () => ended };
}
