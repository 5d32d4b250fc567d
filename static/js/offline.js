/* The page shown where there is no signal: links to what opens all the same, in the project that was open last. */

import { openStore } from "./outbox/store.js";

const store = await openStore();
const last = await store.recall("last-project");
if (last) {
  for (const link of document.querySelectorAll("[data-page]")) link.href = `/${last.slug}/${link.dataset.page}`;
  document.querySelector("[data-opens]").hidden = false;
}
const again = document.querySelector("[data-again]");
again.hidden = false;
again.addEventListener("click", () => location.reload());
addEventListener("online", () => location.reload());
