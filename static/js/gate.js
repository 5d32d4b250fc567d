/* At a gate a photo that was taken is sent at once; without this script the link beside it leads to a page that does the same. */

for (const form of document.querySelectorAll("form[data-send-on-choice]")) {
  const input = form.querySelector("input[type=file]");
  form.hidden = false;
  input.addEventListener("change", () => {
    if (!input.files.length) return;
    const label = form.querySelector("label");
    label.setAttribute("aria-busy", "true");
    form.submit();
  });
}
