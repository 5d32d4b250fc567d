/* Copies the text of a field. Without this script the field can be marked and copied by hand. */

for (const button of document.querySelectorAll("[data-copy]")) {
  button.hidden = !navigator.clipboard;
  button.addEventListener("click", async () => {
    const field = document.getElementById(button.dataset.copy);
    field.select();
    await navigator.clipboard.writeText(field.value);
    document.querySelector("[data-copied]").textContent = "Copied.";
  });
}
