/** The phone's disk: one IndexedDB, and transactions that are done only when they are on disk. */

import { t } from "./language.js";

export const STORES = /** @type {const} */ ({
  operations: "seq", // facts as they were made; written once, deleted only after a verdict and 14 days
  verdicts: "seq", // what the server said of each
  drafts: "id", // defects begun and not yet saved
  captures: "id", // photos as the camera gave them, until they are made ready to send
  photos: "sha256", // photos as they are sent; written once
  uploads: "sha256", // which photos the server holds
  units: "chassis", // the server's view of each unit
  plant: "name",
  settings: "name",
});

/** @typedef {keyof typeof STORES} StoreName */

/**
 * @param {string} [name]
 * @returns {Promise<IDBDatabase>}
 */
export function openDatabase(name = "daybay") {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(name, 1);
    opening.onupgradeneeded = () => {
      for (const [store, keyPath] of Object.entries(STORES)) opening.result.createObjectStore(store, { keyPath });
    };
    opening.onsuccess = () => {
      // Another tab with a newer version must be able to upgrade; this one then reloads.
      opening.result.onversionchange = () => opening.result.close();
      resolve(opening.result);
    };
    opening.onerror = () => reject(opening.error);
    opening.onblocked = () => reject(new Error(t`another tab holds an older store open; close it and start again`));
  });
}

/** What stands in the place of a connection that the browser has closed. @type {WeakMap<IDBDatabase, IDBDatabase>} */
const heirs = new WeakMap();

/**
 * Begin a transaction. A connection that the browser closed (after an error of the disk, or when the store was cleared)
 * is opened again; whoever holds the old one goes on with the new one. Tells the page, which reads everything anew.
 * @param {IDBDatabase} db
 * @param {StoreName | StoreName[]} stores
 * @param {IDBTransactionMode} [mode]
 * @param {IDBTransactionOptions} [options]
 */
export async function begin(db, stores, mode, options) {
  const here = heirs.get(db) ?? db;
  try {
    return here.transaction(stores, mode, options);
  } catch (error) {
    if (!(error instanceof DOMException) || error.name !== "InvalidStateError") throw error;
    const heir = await openDatabase(here.name);
    heirs.set(db, heir);
    dispatchEvent(new Event("store-opened-again"));
    return heir.transaction(stores, mode, options);
  }
}

/**
 * @template T
 * @param {IDBRequest<T>} request
 * @returns {Promise<T>}
 */
export function ask(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/**
 * Run `work` in one transaction and resolve with its answer once the disk holds it (`complete`, strict durability).
 * Rejects with the transaction's own error: a full disk is told there, not on the request.
 * @template T
 * @param {IDBDatabase} db
 * @param {StoreName[]} stores
 * @param {(tx: IDBTransaction) => Promise<T>} work  may await requests of this transaction only
 * @returns {Promise<T>}
 */
export async function transact(db, stores, work) {
  const tx = await begin(db, stores, "readwrite", { durability: "strict" });
  const done = new Promise((resolve, reject) => {
    tx.oncomplete = resolve;
    tx.onabort = () => reject(tx.error ?? new DOMException(t`the phone's store gave up the change`, "AbortError"));
  });
  done.catch(() => {}); // told below, by the awaited promise
  let answer;
  try {
    answer = await work(tx);
  } catch (error) {
    abandon(tx);
    await done.catch(() => {});
    throw tx.error ?? error;
  }
  await done;
  return answer;
}

/** @param {IDBTransaction} tx */
function abandon(tx) {
  try {
    tx.abort();
  } catch {
    // It has aborted by itself: that is what was wanted.
  }
}

/**
 * @param {IDBDatabase} db
 * @param {StoreName} store
 * @param {IDBValidKey} key
 * @returns {Promise<any>}
 */
export async function read(db, store, key) {
  return ask((await begin(db, store)).objectStore(store).get(key));
}

/**
 * @param {IDBDatabase} db
 * @param {StoreName} store
 * @param {IDBKeyRange} [range]
 * @returns {Promise<any[]>}
 */
export async function readAll(db, store, range) {
  return ask((await begin(db, store)).objectStore(store).getAll(range));
}

/**
 * @param {IDBDatabase} db
 * @param {StoreName} store
 * @returns {Promise<IDBValidKey[]>}
 */
export async function readKeys(db, store) {
  return ask((await begin(db, store)).objectStore(store).getAllKeys());
}

/**
 * @param {IDBDatabase} db
 * @param {StoreName} store
 * @param {any} value
 */
export function write(db, store, value) {
  return transact(db, [store], (tx) => ask(tx.objectStore(store).put(value)));
}

/**
 * @param {IDBDatabase} db
 * @param {StoreName} store
 * @param {IDBValidKey} key
 */
export function remove(db, store, key) {
  return transact(db, [store], (tx) => ask(tx.objectStore(store).delete(key)));
}

/** @param {unknown} error */
export function isFull(error) {
  return error instanceof DOMException && error.name === "QuotaExceededError";
}
