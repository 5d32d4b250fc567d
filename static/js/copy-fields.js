/* Copies the text that stands beside a button. Without this script it can be marked and copied by hand. */

for (const button of document.querySelectorAll("[data-copy-text]")) {
  button.hidden = !navigator.clipboard;
  button.addEventListener("click", async () => {
    const text = document.getElementById(button.dataset.copyText).textContent;
    await navigator.clipboard.writeText(text);
    document.querySelector("[data-copied]").textContent = `Copied: ${text}`;
  });
}
