/** What this phone has recorded: written once, numbered in its own transaction, kept until the server has spoken. */

import { ask, isFull, read, readAll, transact } from "./db.js";
import { operation, timeNow } from "./facts.js";
import { dropBallast, putWithin } from "./settings.js";

/** @import {Entry, Fact, Maker, Operation, Verdict} from "./shapes" */

/**
 * Record facts in order, with consecutive numbers, and remove the draft that they came from, in one transaction.
 * Resolves when the disk holds them. A full phone gives up its reserve once and tries again.
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
 */
export async function record(db, maker, facts, extras = {}) {
  try {
    return await recordOnce(db, maker, facts, extras);
  } catch (error) {
    if (!isFull(error) || extras.photo) throw error;
    await dropBallast(db);
    return recordOnce(db, maker, facts, extras);
  }
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
    const entries = facts.map((fact, place) => entry(operation(fact, maker, first + place, timeNow())));
    for (const each of entries) await ask(tx.objectStore("operations").add(each));
    await putWithin(tx, { next_seq: first + entries.length });
    if (extras.photo) await ask(tx.objectStore("photos").put(extras.photo));
    if (extras.capture) await ask(tx.objectStore("captures").delete(extras.capture));
    if (extras.draft) await ask(tx.objectStore("drafts").delete(extras.draft));
    return entries;
  });
}

/**
 * @param {Operation} op
 * @returns {Entry}
 */
function entry(op) {
  return { seq: op.seq, id: op.id, unit: op.unit, kind: op.kind, op, text: JSON.stringify(op), saved_ms: op.wall_ms };
}

/**
 * Entries without a verdict of the present server, in the order of their numbers. A restored server has a new
 * epoch: what it may have lost is offered again.
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
 * @param {IDBDatabase} db
 * @returns {Promise<{entries: Entry[], verdicts: Map<number, Verdict>}>}
 */
export async function loadOutbox(db) {
  const [entries, verdicts] = await Promise.all([readAll(db, "operations"), readAll(db, "verdicts")]);
  return { entries, verdicts: new Map(verdicts.map((verdict) => [verdict.seq, verdict])) };
}

/**
 * Keep verdicts as they came. One that was settled here stays settled while its verdict is the same.
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
  if (verdict) await transact(db, ["verdicts"], (tx) => ask(tx.objectStore("verdicts").put({ ...verdict, settled: why })));
}
