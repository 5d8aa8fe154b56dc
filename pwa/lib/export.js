/** One file with all that is unsent, in the shape of a push, so that the server takes it by the same door. */

import { readAll } from "./db.js";
import { tellsMore } from "./picture.js";
import { runsOf } from "./proof.js";

/** @import {Entry, Settings} from "./shapes" */

/** @param {ArrayBuffer} bytes */
export function base64(bytes) {
  const view = new Uint8Array(bytes);
  let text = "";
  // In pieces: a whole photo as arguments of one call overflows the stack.
  for (let start = 0; start < view.length; start += 8192)
    text += String.fromCharCode(...view.subarray(start, start + 8192));
  return btoa(text);
}

/**
 * @param {IDBDatabase} db
 * @param {Settings} settings
 * Photos as they are sent: one that could not be drawn anew would carry where it was taken, so it stays on the phone.
 * @param {Entry[]} entries  the unsent ones, in order
 * @param {Set<string>} sentPhotos
 * @returns {Promise<Blob>}
 */
export async function exportFile(db, settings, entries, sentPhotos) {
  const photos = (await readAll(db, "photos")).filter(
    (photo) => !sentPhotos.has(photo.sha256) && !tellsMore(photo.bytes),
  );
  const file = {
    protocol: 2,
    device: settings.device,
    install_epoch: settings.install_epoch,
    sent_ms: Date.now(),
    exported_ms: Date.now() + settings.clock_offset_ms,
    server_epoch: settings.server_epoch || null,
    chain: settings.chain,
    runs: await runsOf(entries, settings),
    operations: entries.map((entry) => entry.op),
    photos: photos.map((photo) => ({ sha256: photo.sha256, base64: base64(photo.bytes) })),
  };
  return new Blob([JSON.stringify(file)], { type: "application/json" });
}

/**
 * @param {Blob} blob
 * @param {string} name
 */
export function download(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
