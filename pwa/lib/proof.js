/** What proves who recorded: an author's signature, under a key that the server certified, over what is sent. */

import { sha256 } from "./facts.js";

/** @import {AuthorKey, Entry, Seal, Settings} from "./shapes" */

const MOST_IN_RUN = 100;
const WAIT_MS = 24 * 3600 * 1000;
const MOST_KEPT_BACK = 1000; // spans that a push may tell; beyond it all waits

/** @param {ArrayBuffer} bytes */
export function base64url(bytes) {
  const text = btoa(String.fromCharCode(...new Uint8Array(bytes)));
  return text.replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

/**
 * What signs a record: its own seal, or its author's newest key that the server knows.
 * @param {Entry} entry
 * @param {Settings} settings
 * @returns {Seal | AuthorKey | null}
 */
function signerOf(entry, settings) {
  const known = (/** @type {AuthorKey} */ each) => each.person === entry.op.author && each.key_id === settings.key_id;
  return entry.seal ?? settings.keys.find(known) ?? null;
}

/**
 * The records that cannot go now: what nothing proves waits a day for its author to sign in here (then it goes without,
 * and the manager looks at it), and with it what came later on its unit.
 * @param {Entry[]} entries
 * @param {Settings} settings
 * @param {number} now
 */
export function keptBack(entries, settings, now) {
  const units = new Set();
  let many = 0;
  return entries.filter((entry) => {
    const waits = now - entry.saved_ms < WAIT_MS && !signerOf(entry, settings);
    if (!waits && !units.has(entry.unit) && many < MOST_KEPT_BACK) return false;
    if (entry.unit) units.add(entry.unit);
    return (many += 1);
  });
}

/** First and last of the numbers of records in order, as a push tells them. @param {Entry[]} entries */
export function spans(entries) {
  /** @type {number[][]} */
  const told = [];
  for (const { seq } of entries) {
    const last = told.at(-1);
    if (last && last[1] === seq - 1) last[1] = seq;
    else told.push([seq, seq]);
  }
  return told;
}

/**
 * The runs of a batch: each author's records in a row, with their signature.
 * @param {Entry[]} entries
 * @param {Settings} settings
 */
export async function runsOf(entries, settings) {
  /** @type {{signer: Seal | AuthorKey | null, entries: Entry[]}[]} */
  const runs = [];
  for (const entry of entries) {
    const signer = signerOf(entry, settings);
    const last = runs.at(-1);
    if (last && last.signer === signer && last.entries.length < MOST_IN_RUN) last.entries.push(entry);
    else runs.push({ signer, entries: [entry] });
  }
  return Promise.all(runs.map((run) => signed(run.entries, run.signer, settings)));
}

/**
 * @param {Entry[]} entries
 * @param {Seal | AuthorKey | null} signer
 * @param {Settings} settings
 */
async function signed(entries, signer, { device, install_epoch }) {
  if (!signer) return { operations: entries.length, certificate: null, signature: null };
  const encoder = new TextEncoder();
  const hashes = await Promise.all(entries.map((entry) => sha256(encoder.encode(entry.text))));
  const message = `run of operations\n${device}\n${install_epoch}\n${hashes.join("")}\n`;
  const signature = await crypto.subtle.sign({ name: "ECDSA", hash: "SHA-256" }, signer.key, encoder.encode(message));
  return { operations: entries.length, certificate: signer.certificate, signature: base64url(signature) };
}
