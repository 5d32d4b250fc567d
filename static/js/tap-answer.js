/* What the server says to something just kept, within the patience of a thumb; null when it will come later. */

import { here } from "./here.js";
import { onChange } from "./outbox/changes.js";
import { flush } from "./outbox/sender.js";
import { openStore } from "./outbox/store.js";

const PATIENCE = 2_500;

/**
 * @param {{id: string}} item
 * @returns {Promise<object|null>} the item once it is sent, refused or held
 */
export function answerTo({ id }) {
  return new Promise((resolve) => {
    const done = (item) => {
      stop();
      clearTimeout(late);
      resolve(item);
    };
    const late = setTimeout(() => done(null), PATIENCE);
    const stop = onChange(async (news) => {
      if (news.why === "status" && news.url === here.url && news.outcome !== "here") done(null);
      if (news.id !== id) return;
      const item = await (await openStore()).get(id);
      if (item.state === "sent" || item.state === "refused" || item.state === "held") done(item);
    });
    flush();
  });
}
