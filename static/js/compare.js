/* Before and after laid over each other, with a line that is moved by the slider. Without this script they stand side by side. */

const section = document.querySelector("[data-laid-over]");
const slider = section?.querySelector("[data-at]");
const over = section?.querySelector("[data-over]");

function move() {
  over.style.setProperty("--at", `${slider.value}%`);
  slider.setAttribute("aria-valuetext", `${slider.value} % of the one before`);
}

if (slider) {
  section.hidden = false;
  slider.addEventListener("input", move);
  move();
}
