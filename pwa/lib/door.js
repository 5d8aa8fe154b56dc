/**
 * What the app cannot do without: a browser that lacks one of these is told so at the door, before anything is kept.
 */

/** @type {[string, (here: any) => boolean][]} */
const NEEDED = [
  ["a secure page (https, without a certificate warning)", (here) => here.isSecureContext !== false],
  ["a store on the phone (IndexedDB)", (here) => !!here.indexedDB],
  ["cryptography in the page (SubtleCrypto)", (here) => !!here.crypto?.subtle],
  ["locks between tabs (Web Locks)", (here) => !!here.navigator?.locks],
  ["messages between tabs (BroadcastChannel)", (here) => typeof here.BroadcastChannel === "function"],
  ["copies of records (structuredClone)", (here) => typeof here.structuredClone === "function"],
  ["the present shape of lists (findLast)", (here) => typeof here.Array.prototype.findLast === "function"],
  [
    "a way to draw photos anew (canvas)",
    (here) => typeof here.OffscreenCanvas === "function" || typeof here.HTMLCanvasElement === "function",
  ],
];

/**
 * What this browser lacks, in words; empty where the app can run.
 * @param {any} here  the page's global object
 * @returns {string[]}
 */
export function lacking(here) {
  return NEEDED.flatMap(([words, has]) => (has(here) ? [] : [words]));
}
