function render({ model, el }) {
  // The drawing is labkit's own, made from numbers and escaped names; it holds no script.
  const figure = document.createElement("div");
  figure.className = "lk-picture";
  figure.innerHTML = model.get("svg");
  el.replaceChildren(figure);
}

export default { render };
