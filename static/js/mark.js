const SVG = "http://www.w3.org/2000/svg";

/** @returns {SVGElement} a mark of the sprite, as the template tag of the same name makes it. */
export function mark(name) {
  const drawing = document.createElementNS(SVG, "svg");
  drawing.setAttribute("class", "mark");
  drawing.setAttribute("aria-hidden", "true");
  const use = document.createElementNS(SVG, "use");
  use.setAttribute("href", `#m-${name}`);
  drawing.append(use);
  return drawing;
}
