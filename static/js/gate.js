/* At a gate a photo that was taken is sent at once; without this script the link beside it leads to a page that does the same. */

for (const form of document.querySelectorAll("form[data-send-on-choice]")) {
  const input = form.querySelector("input[type=file]");
  form.hidden = false;
  input.addEventListener("change", () => {
    if (!input.files.length) return;
    const label = form.querySelector("label");
    label.setAttribute("aria-busy", "true");
    // An upload does not carry the file's own time, which is all there is when the camera wrote none into the photo.
    form.elements.file_time.value = String(input.files[0].lastModified);
    form.submit();
  });
}
