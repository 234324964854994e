// The network is drawn twice, wide and narrow: where a place of one drawing is in the other. A place goes with the
// part that it is nearest to, for both drawings name the same parts in the same order.

/** @typedef {import("./drawing_view.js").Place} Place */
/** @typedef {import("./drawing_view.js").Box} Box */
/** @typedef {{ name: string, box: Box }} Part */

/** The parts that a drawing names, each where its first mark stands. @param {Element} drawing @returns {Part[]} */
export function partsOf(drawing) {
  return [...drawing.querySelectorAll("g > title")].flatMap((title) => {
    const mark = title.parentElement?.querySelector("circle, rect");
    return mark ? [{ name: title.textContent ?? "", box: boxOf(mark) }] : [];
  });
}

/** @param {Element} mark @returns {Box} */
function boxOf(mark) {
  const [x, y, width, height, cx, cy, r] = ["x", "y", "width", "height", "cx", "cy", "r"].map((name) =>
    Number(mark.getAttribute(name)),
  );
  return mark.localName === "circle" ? { x: cx - r, y: cy - r, width: 2 * r, height: 2 * r } : { x, y, width, height };
}

/** Undefined where the two do not draw the same. @param {Part[]} from @param {Part[]} to @param {Place} place */
export function samePlace(from, to, place) {
  const same = from.length === to.length && from.every(({ name }, index) => name === to[index].name);
  if (!same || !from.length) return undefined;
  const far = from.map(({ box }) => Math.hypot(outside(place.x, box.x, box.width), outside(place.y, box.y, box.height)));
  const nearest = far.indexOf(Math.min(...far));
  const [here, there] = [from[nearest].box, to[nearest].box];
  return {
    x: along(place.x, here.x, here.width, there.x, there.width),
    y: along(place.y, here.y, here.height, there.y, there.height),
  };
}

// How far a value is before (negative) or behind a stretch; 0 within it.
/** @param {number} value @param {number} start @param {number} length */
function outside(value, start, length) {
  return value < start ? value - start : Math.max(0, value - start - length);
}

// Within the part it keeps its share, outside its distance.
/** @param {number} value @param {number} start @param {number} length @param {number} newStart @param {number} newLength */
function along(value, start, length, newStart, newLength) {
  const over = outside(value, start, length);
  const share = over === 0 ? (value - start) / length : over < 0 ? 0 : 1;
  return newStart + share * newLength + over;
}
