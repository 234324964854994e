// The network beside a question: drawn narrow there, and wide where a press shows it large. Notes that are pinned in
// the wide drawing are dots in the narrow one, each at the same part.

import { DrawingNotes } from "./drawing_notes.js";
import { DrawingView } from "./drawing_view.js";
import { button, element, shape } from "./elements.js";
import { noteDot } from "./note_dots.js";
import { partsOf, samePlace } from "./same_place.js";
import { ZoomedDrawing } from "./zoomed_drawing.js";

const DOT = 0.9; // a dot's size in the narrow drawing, whose units are about pixels

/** @param {string} text - labkit's own drawing @returns {SVGSVGElement} */
function svgOf(text) {
  const place = element("div");
  place.innerHTML = text;
  return /** @type {SVGSVGElement} */ (place.querySelector("svg"));
}

/** @param {number} notes */
const words = (notes) => (notes ? `Larger · ${notes} ${notes === 1 ? "note" : "notes"}` : "Larger");

/** @param {string} wide @param {string} narrow @param {string} drafts - under which name notes are kept */
export function networkDrawing(wide, narrow, drafts) {
  const notes = new DrawingNotes(drafts);
  const [large, small] = [svgOf(wide), svgOf(narrow)];
  const [from, to] = [partsOf(large), partsOf(small)];
  const edge = new DrawingView(small.viewBox.baseVal);
  const zoomed = new ZoomedDrawing("Your network", large, notes);
  const open = () => zoomed.open();
  const larger = button("Larger", open, { class: "pg-button pg-larger" });
  const frame = { class: "pg-picture", tabindex: 0, role: "group", "aria-label": "Drawing of your network" };
  const framed = element("div", frame, small);
  framed.addEventListener("click", open);
  framed.addEventListener("keydown", ({ key }) => key === "Enter" && open());
  const dots = small.appendChild(shape("g", {}));

  function show() {
    larger.textContent = words(notes.all.length);
    const placed = notes.all.map((note) => ({ note, place: samePlace(from, to, note) }));
    dots.replaceChildren(...placed.flatMap(({ note, place }) => (place ? [noteDot(note, edge.inside(place), DOT)] : [])));
  }

  notes.on(show);
  show();
  return element("div", { class: "pg-drawing" }, framed, larger);
}
