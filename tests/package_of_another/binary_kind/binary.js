import { element } from "./elements.js";
import { exercise } from "./frame.js";

function build(root, { changed }) {
  const field = element("input", { class: "binary-digits" });
  field.addEventListener("input", changed);
  root.append(field);
  return { get: () => field.value, set: (answer) => { field.value = answer ?? ""; } };
}
export default { render: exercise(build) };
