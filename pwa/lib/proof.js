/** What proves who recorded: an author's signature, under a key that the server certified, over what is sent. */

/** @import {AuthorKey, Entry, Seal, Settings} from "./shapes" */

const MOST_IN_RUN = 100;
const WAIT_MS = 24 * 3600 * 1000;

/** @param {ArrayBuffer} bytes */
export function base64url(bytes) {
  const text = btoa(String.fromCharCode(...new Uint8Array(bytes)));
  return text.replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

/**
 * What signs a record: its own seal, or its author's newest key that the server still knows; null for nothing.
 * @param {Entry} entry
 * @param {Settings} settings
 * @returns {Seal | AuthorKey | null}
 */
function signerOf(entry, settings) {
  const known = (/** @type {AuthorKey} */ each) => each.person === entry.op.author && each.key_id === settings.key_id;
  return entry.seal ?? settings.keys.find(known) ?? null;
}

/**
 * How many records, from the first, can go now. One that nothing proves waits a day for its author to sign in here
 * again; then it goes without, and the quality manager looks at it.
 * @param {Entry[]} entries
 * @param {Settings} settings
 * @param {number} now
 */
export function ready(entries, settings, now) {
  const waits = (/** @type {Entry} */ entry) => now - entry.saved_ms < WAIT_MS && !signerOf(entry, settings);
  const first = entries.findIndex(waits);
  return first < 0 ? entries.length : first;
}

/**
 * The runs of a batch: of each author's records in a row, how many, and their signature with the server's certificate.
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
  const hashes = await Promise.all(entries.map((entry) => crypto.subtle.digest("SHA-256", encoder.encode(entry.text))));
  const message = `run of operations\n${device}\n${install_epoch}\n${hashes.map(hex).join("")}\n`;
  const signature = await crypto.subtle.sign({ name: "ECDSA", hash: "SHA-256" }, signer.key, encoder.encode(message));
  return { operations: entries.length, certificate: signer.certificate, signature: base64url(signature) };
}

/** @param {ArrayBuffer} bytes */
function hex(bytes) {
  return Array.from(new Uint8Array(bytes), (byte) => byte.toString(16).padStart(2, "0")).join("");
}
