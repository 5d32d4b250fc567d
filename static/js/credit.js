/* The ten tenths of a task while they are chosen: what is nobody's yet, and one tap that gives it to a column. */

const FULL = 10;

for (const box of document.querySelectorAll("[data-split]")) {
  const chosen = [...box.querySelectorAll("select")];
  const buttons = box.querySelector("[data-rest-buttons]");
  const rest = () => FULL - chosen.reduce((sum, field) => sum + Number(field.value || 0), 0);

  for (const field of chosen) {
    const give = document.createElement("button");
    give.type = "button";
    give.className = "button";
    give.textContent = `Rest to: ${field.labels[0].textContent.trim()}`;
    give.addEventListener("click", () => {
      field.value = String(Number(field.value || 0) + rest());
      show();
      field.focus();
    });
    buttons.append(give);
  }

  function show() {
    const left = rest();
    box.querySelector("[data-rest]").textContent =
      left > 0 ? `${left} of 10 tenths nobody's yet.` : left === 0 ? "All ten tenths are given." : `${FULL - left} tenths; one task is 10.`;
    box.classList.toggle("too-much", left < 0);
    buttons.hidden = left <= 0;
  }

  box.addEventListener("change", show);
  show();
}
