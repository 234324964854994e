// Which part of a drawing is shown, and how large. All is in the drawing's own units, but for the room on the
// screen and how far something is moved there: those are in pixels.

const READABLE = 0.9; // pixels a unit: letters of 12 units can be read then
const MOST = 8;

/** @typedef {{ x: number, y: number }} Place */
/** @typedef {Place & { width: number, height: number }} Box */

/** @param {number} value @param {number} low @param {number} high */
const within = (value, low, high) => Math.min(Math.max(value, low), high);

/** @param {Box} box @returns {Place} */
const middleOf = ({ x, y, width, height }) => ({ x: x + width / 2, y: y + height / 2 });

export class DrawingView {
  /** @param {Box} whole */
  constructor(whole) {
    this.whole = whole;
    this.room = { width: whole.width, height: whole.height };
    this.scale = 1;
    this.middle = middleOf(whole);
  }

  /** All of it, as large as there is room. */
  fit() {
    this.scale = this.least;
    this.middle = middleOf(this.whole);
  }

  /** As it is opened: all of it, or on a small screen what can be read of it, from its beginning. */
  begin() {
    this.fit();
    if (this.scale >= READABLE) return;
    this.scale = READABLE;
    const [width, height] = [this.room.width / READABLE, this.room.height / READABLE];
    if (width < this.whole.width) this.middle.x = this.whole.x + width / 2;
    if (height < this.whole.height) this.middle.y = this.whole.y + height / 2;
  }

  get least() {
    return Math.min(this.room.width / this.whole.width, this.room.height / this.whole.height);
  }

  /** What is shown of it. @returns {Box} */
  get box() {
    const [width, height] = [this.room.width / this.scale, this.room.height / this.scale];
    return { x: this.middle.x - width / 2, y: this.middle.y - height / 2, width, height };
  }

  /** @param {number} width @param {number} height */
  takes(width, height) {
    const all = this.scale === this.least;
    this.room = { width, height };
    if (all) this.fit();
    else this.zoom(1);
  }

  /** Larger or smaller, where `at` stays where it is. @param {number} by @param {Place} [at] */
  zoom(by, at = this.middle) {
    const before = this.scale;
    this.scale = within(before * by, this.least, Math.max(MOST, this.least));
    const left = before / this.scale; // of how far the middle was from there
    this.goTo({ x: at.x + (this.middle.x - at.x) * left, y: at.y + (this.middle.y - at.y) * left });
  }

  /** Look further to the right and down. @param {number} right @param {number} down - pixels */
  move(right, down) {
    this.goTo({ x: this.middle.x + right / this.scale, y: this.middle.y + down / this.scale });
  }

  /** Move as far as is needed for a place to be in view. @param {Place} place */
  shows({ x, y }) {
    const { box } = this;
    const [right, bottom] = [box.x + box.width, box.y + box.height];
    this.move((x - within(x, box.x, right)) * this.scale, (y - within(y, box.y, bottom)) * this.scale);
  }

  // The middle never leaves the drawing: something of it stays in view.
  /** @param {Place} middle */
  goTo(middle) {
    this.middle = this.inside(middle);
  }

  /** The place of the drawing that is nearest to one. @param {Place} place @returns {Place} */
  inside({ x, y }) {
    const { whole } = this;
    return { x: within(x, whole.x, whole.x + whole.width), y: within(y, whole.y, whole.y + whole.height) };
  }
}
