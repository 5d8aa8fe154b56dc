/** How long the phone keeps what the server holds too: fourteen days, and photos within a share of the disk. */

import { ask, transact } from "./db.js";

/** @import {Entry, Verdict} from "./shapes" */

export const KEPT_MS = 14 * 24 * 3600 * 1000;
export const PHOTO_BUDGET_BYTES = 300_000_000;

/**
 * Numbers of operations that may go: settled by a verdict of the present server longer ago than the kept time. A
 * refusal that nobody has settled stays.
 * @param {Entry[]} entries
 * @param {Map<number, Verdict>} verdicts
 * @param {string} epoch
 * @param {number} now
 */
export function expired(entries, verdicts, epoch, now) {
  return entries
    .filter(({ seq }) => {
      const verdict = verdicts.get(seq);
      if (!verdict || verdict.epoch !== epoch || now - verdict.at_ms < KEPT_MS) return false;
      return verdict.verdict === "applied" || !!verdict.settled;
    })
    .map(({ seq }) => seq);
}

/**
 * Hashes of photos that may go, the oldest first: the server holds them, and they are old or over the budget.
 * @param {{sha256: string, size: number, sent_ms: number, sent: boolean}[]} photos
 * @param {number} now
 */
export function expiredPhotos(photos, now) {
  let over = photos.reduce((sum, photo) => sum + photo.size, 0) - PHOTO_BUDGET_BYTES;
  const gone = [];
  for (const photo of [...photos].sort((a, b) => a.sent_ms - b.sent_ms)) {
    if (!photo.sent || (over <= 0 && now - photo.sent_ms < KEPT_MS)) continue;
    over -= photo.size;
    gone.push(photo.sha256);
  }
  return gone;
}

/**
 * @param {IDBDatabase} db
 * @param {number[]} seqs
 * @param {string[]} photos
 */
export function forget(db, seqs, photos) {
  return transact(db, ["operations", "verdicts", "photos", "uploads"], async (tx) => {
    for (const seq of seqs) {
      await ask(tx.objectStore("operations").delete(seq));
      await ask(tx.objectStore("verdicts").delete(seq));
    }
    for (const sha of photos) {
      await ask(tx.objectStore("photos").delete(sha));
      await ask(tx.objectStore("uploads").delete(sha));
    }
  });
}
