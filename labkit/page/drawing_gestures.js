// What fingers, a mouse and a wheel ask for at a drawing. Places are those of the window.

const STILL = 8; // pixels: what moves less is a tap
const LINE = 16; // pixels, where a wheel counts lines

/** @typedef {import("./drawing_view.js").Place} Place */
/**
 * @typedef {object} Asked
 * @property {(at: Place, on: Element) => void} tap
 * @property {(right: number, down: number) => void} move - by pixels, as what is shown moves
 * @property {(by: number, at: Place) => void} zoom
 * @property {(on: Element) => ((at: Place, ended: boolean) => void) | null} drags - what takes what is pressed along
 */

/** @param {Place} one @param {Place} other */
const between = (one, other) => Math.hypot(one.x - other.x, one.y - other.y);
/** @param {Place} one @param {Place} other */
const middle = (one, other) => ({ x: (one.x + other.x) / 2, y: (one.y + other.y) / 2 });
/** @param {MouseEvent} event */
const placeOf = (event) => ({ x: event.clientX, y: event.clientY });

/** @param {Element} stage @param {Asked} asked */
export function gestures(stage, asked) {
  const fingers = new Fingers(stage, asked);
  /** @type {[string, (event: any) => void][]} */
  const heard = [
    ["pointerdown", (event) => fingers.down(event)],
    ["pointermove", (event) => fingers.moves(event)],
    ["pointerup", (event) => fingers.up(event, true)],
    ["pointercancel", (event) => fingers.up(event, false)],
  ];
  for (const [name, hears] of heard) stage.addEventListener(name, hears);
  const wheel = (/** @type {WheelEvent} */ event) => {
    event.preventDefault();
    const far = event.deltaY * (event.deltaMode ? LINE : 1);
    asked.zoom(1.0015 ** -far, placeOf(event));
  };
  stage.addEventListener("wheel", /** @type {EventListener} */ (wheel), { passive: false });
}

class Fingers {
  /** @param {Element} stage @param {Asked} asked */
  constructor(stage, asked) {
    this.stage = stage;
    this.asked = asked;
    /** @type {Map<number, Place>} */
    this.at = new Map();
    this.moved = false;
    /** @type {Element} */
    this.on = stage;
    /** @type {((at: Place, ended: boolean) => void) | null} */
    this.takesAlong = null;
  }

  /** @param {PointerEvent} event */
  down(event) {
    if (event.button !== 0) return;
    this.stage.setPointerCapture(event.pointerId);
    const [first] = this.at.values();
    this.at.set(event.pointerId, placeOf(event));
    if (first) {
      if (this.moved) this.takesAlong?.(first, true);
      this.moved = true;
      this.takesAlong = null;
      return;
    }
    this.moved = false;
    this.on = /** @type {Element} */ (event.target);
    this.takesAlong = this.asked.drags(this.on);
  }

  /** @param {PointerEvent} event */
  moves(event) {
    const before = this.at.get(event.pointerId);
    const now = placeOf(event);
    if (!before || (!this.moved && between(before, now) < STILL)) return;
    this.moved = true;
    this.at.set(event.pointerId, now);
    const other = [...this.at].find(([id]) => id !== event.pointerId)?.[1];
    if (other) this.pinch(middle(before, other), middle(now, other), between(now, other) / (between(before, other) || 1));
    else if (this.takesAlong) this.takesAlong(now, false);
    else this.asked.move(now.x - before.x, now.y - before.y);
  }

  /** @param {Place} from @param {Place} to @param {number} by */
  pinch(from, to, by) {
    this.asked.move(to.x - from.x, to.y - from.y);
    this.asked.zoom(by, to);
  }

  /** @param {PointerEvent} event @param {boolean} meant */
  up(event, meant) {
    const last = this.at.get(event.pointerId);
    this.at.delete(event.pointerId);
    if (!last || this.at.size) return;
    if (this.moved) this.takesAlong?.(last, true);
    else if (meant) this.asked.tap(placeOf(event), this.on);
    this.takesAlong = null;
  }
}
