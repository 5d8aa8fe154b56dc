/** What this phone has recorded: written once, numbered as it is kept, kept until the server has spoken. */

import { circleWithin } from "./circles.js";
import { ask, read, readAll, transact } from "./db.js";
import { operation, timeNow } from "./facts.js";
import { putWithin, withReserve } from "./settings.js";
import { noteLast } from "./witness.js";

/** @import {Entry, Fact, Maker, Operation, Seal, Verdict} from "./shapes" */

/**
 * Record facts in order, with consecutive numbers, and remove their draft, in one transaction. Resolves when the disk
 * holds them. A full phone gives up its reserve once and tries again.
 * @param {IDBDatabase} db
 * @param {Maker} maker
 * @param {Fact[]} facts
 * @param {Partial<Extras>} [extras]
 * @returns {Promise<Entry[]>}
 *
 * @typedef {object} Extras
 * @property {string} draft  id of the draft to remove
 * @property {string} capture  id of the capture that `photo` replaces
 * @property {object} photo  the photo to keep with the operation that names it
 * @property {Seal} seal  what signs a record for which the PIN was given once more
 */
export async function record(db, maker, facts, extras = {}) {
  const once = () => recordOnce(db, maker, facts, extras);
  const entries = await (extras.photo ? once() : withReserve(db, once));
  noteLast(entries);
  return entries;
}

/**
 * @param {IDBDatabase} db
 * @param {Maker} maker
 * @param {Fact[]} facts
 * @param {Partial<Extras>} extras
 */
function recordOnce(db, maker, facts, extras) {
  return transact(db, ["settings", "operations", "drafts", "captures", "photos"], async (tx) => {
    // A capture that is gone was made ready by another tab: its photo is recorded already.
    if (extras.capture && !(await ask(tx.objectStore("captures").count(extras.capture)))) return [];
    const first = (await ask(tx.objectStore("settings").get("next_seq")))?.value ?? 1;
    const entries = facts.map((fact, place) => entry(operation(fact, maker, first + place, timeNow()), extras.seal));
    for (const each of entries) await ask(tx.objectStore("operations").add(each));
    await putWithin(tx, { next_seq: first + entries.length });
    if (extras.photo) await ask(tx.objectStore("photos").put(extras.photo));
    if (extras.capture) {
      await ask(tx.objectStore("captures").delete(extras.capture));
      await circleWithin(tx, extras.capture, null);
    }
    if (extras.draft) await ask(tx.objectStore("drafts").delete(extras.draft));
    return entries;
  });
}

/**
 * @param {Operation} op
 * @param {Seal} [seal]
 * @returns {Entry}
 */
function entry(op, seal) {
  const made = {
    seq: op.seq,
    id: op.id,
    unit: op.unit,
    kind: op.kind,
    op,
    text: JSON.stringify(op),
    saved_ms: op.wall_ms,
  };
  return seal ? { ...made, seal } : made;
}

/**
 * Entries without a verdict of the present server, in order. A restored server has a new epoch: all is offered again.
 * @param {Entry[]} entries  in order
 * @param {Map<number, Verdict>} verdicts
 * @param {string} epoch
 */
export function unsent(entries, verdicts, epoch) {
  return entries.filter((each) => {
    const verdict = verdicts.get(each.seq);
    return !verdict || verdict.epoch !== epoch;
  });
}

/**
 * What a sync sends, in order: what is unsent and proved, and what may have had a later word, which needs no proof.
 * @param {Entry[]} entries
 * @param {Map<number, Verdict>} verdicts
 * @param {string} epoch
 * @param {(unsent: Entry[]) => Entry[]} proved
 */
export function toSend(entries, verdicts, epoch, proved) {
  const fresh = unsent(entries, verdicts, epoch);
  const asked = entries.filter(
    (each) => !fresh.includes(each) && ["parked", "quarantined"].includes(verdicts.get(each.seq)?.verdict ?? ""),
  );
  return [...asked, ...proved(fresh)].sort((a, b) => a.seq - b.seq);
}

/**
 * @param {IDBDatabase} db
 * @returns {Promise<{entries: Entry[], verdicts: Map<number, Verdict>}>}
 */
export async function loadOutbox(db) {
  const [entries, verdicts] = await Promise.all([readAll(db, "operations"), readAll(db, "verdicts")]);
  return { entries, verdicts: new Map(verdicts.map((verdict) => [verdict.seq, verdict])) };
}

/**
 * Keep verdicts. What was settled here stays so while its verdict is the same.
 * @param {IDBDatabase} db
 * @param {Verdict[]} verdicts
 */
export function keepVerdicts(db, verdicts) {
  return transact(db, ["verdicts"], async (tx) => {
    const store = tx.objectStore("verdicts");
    for (const verdict of verdicts) {
      const before = await ask(store.get(verdict.seq));
      const settled = before?.settled && before.verdict === verdict.verdict ? { settled: before.settled } : {};
      await ask(store.put({ ...verdict, ...settled }));
    }
  });
}

/**
 * @param {IDBDatabase} db
 * @param {number} seq
 * @param {string} why
 */
export async function settle(db, seq, why) {
  const verdict = await read(db, "verdicts", seq);
  if (verdict)
    await transact(db, ["verdicts"], (tx) => ask(tx.objectStore("verdicts").put({ ...verdict, settled: why })));
}

// ---- how long the phone keeps what the server holds too: fourteen days, and photos within a share of the disk

export const KEPT_MS = 14 * 24 * 3600 * 1000;
export const PHOTO_BUDGET_BYTES = 300_000_000;

/**
 * Numbers of operations that may go: settled by the present server longer ago than the kept time. A refusal that nobody
 * has settled stays.
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
 * Hashes of photos that may go, the oldest first: held by the server, and old or over the budget.
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
