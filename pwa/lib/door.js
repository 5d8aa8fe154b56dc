/**
 * What the app cannot do without: a browser that lacks one of these is told so at the door, before anything is kept.
 */

import { inWords, t } from "./language.js";

/** @type {[(here: any) => boolean, string][]} */
const NEEDED = inWords([
  [(here) => here.isSecureContext !== false, "a secure page (https, without a certificate warning)"],
  [(here) => !!here.indexedDB, "a store on the phone (IndexedDB)"],
  [(here) => !!here.crypto?.subtle, "cryptography in the page (SubtleCrypto)"],
  [(here) => !!here.navigator?.locks, "locks between tabs (Web Locks)"],
  [(here) => typeof here.BroadcastChannel === "function", "messages between tabs (BroadcastChannel)"],
  [(here) => typeof here.structuredClone === "function", "copies of records (structuredClone)"],
  [(here) => typeof here.Array.prototype.findLast === "function", "the present shape of lists (findLast)"],
  [
    (here) => typeof here.OffscreenCanvas === "function" || typeof here.HTMLCanvasElement === "function",
    "a way to draw photos anew (canvas)",
  ],
]);

/**
 * What this browser lacks, in words; empty where the app can run.
 * @param {any} here  the page's global object
 * @returns {string[]}
 */
export function lacking(here) {
  return NEEDED.flatMap(([has, words]) => (has(here) ? [] : [t(words)]));
}
