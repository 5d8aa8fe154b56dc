/** Photos: kept as the camera gave them, then made smaller, without position data, and named by their own bytes. */

import { ask, readAll, transact } from "./db.js";
import { fact } from "./facts.js";
import { record } from "./outbox.js";

/** @import {Capture, Entry} from "./shapes" */

export const LONG_EDGE = 2048;
const QUALITY = 0.85;
const MOST_BYTES = 8_000_000;
const SENDABLE = ["image/jpeg", "image/png", "image/webp"];

/** @param {ArrayBuffer} bytes */
export async function sha256(bytes) {
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * What a capture is of, as its id tells it: a list of photos need not read their bytes.
 * @param {IDBValidKey} id
 */
export function captureOf(id) {
  const [defect, unit, view] = String(id).split("/");
  return { id: String(id), defect, unit, view };
}

/**
 * Keep a photo the moment it arrives and read it back; resolves when the disk holds the same bytes.
 * @param {IDBDatabase} db
 * @param {Capture} capture
 */
export async function keepCapture(db, capture) {
  await transact(db, ["captures"], (tx) => ask(tx.objectStore("captures").add(capture)));
  const [kept] = await readAll(db, "captures", IDBKeyRange.only(capture.id));
  if ((await sha256(kept.bytes)) !== capture.sha256) throw new Error("the phone did not keep the photo as it was taken; take it again");
}

/**
 * Width and height with the long edge at most `edge`, never enlarged.
 * @param {number} width
 * @param {number} height
 * @param {number} edge
 */
export function fitted(width, height, edge) {
  const share = Math.min(1, edge / Math.max(width, height));
  return { width: Math.max(1, Math.round(width * share)), height: Math.max(1, Math.round(height * share)) };
}

/**
 * The bytes to send. Drawing the picture anew drops all data about place and camera.
 * @param {Blob} blob
 */
async function smaller(blob) {
  const picture = await createImageBitmap(blob);
  const size = fitted(picture.width, picture.height, LONG_EDGE);
  const canvas = new OffscreenCanvas(size.width, size.height);
  const pen = canvas.getContext("2d");
  if (!pen) throw new Error("this browser cannot draw pictures");
  pen.drawImage(picture, 0, 0, size.width, size.height);
  picture.close();
  const bytes = await (await canvas.convertToBlob({ type: "image/jpeg", quality: QUALITY })).arrayBuffer();
  return { bytes, ...size };
}

/**
 * Make one capture ready to send: in one transaction the smaller photo and the operation that names it come, and the
 * capture goes. A photo that cannot be read by the browser goes as it is where the server takes its kind.
 * @param {IDBDatabase} db
 * @param {Capture} capture
 * @returns {Promise<Entry[]>}
 */
export async function makeReady(db, capture) {
  const ready = await readyBytes(capture);
  const sha = await sha256(ready.bytes);
  const body = { defect: capture.defect, sha256: sha, bytes: ready.bytes.byteLength, width: ready.width, height: ready.height, view: capture.view };
  const attached = fact("photo_attached", capture.unit, body, { deps: [capture.defect] });
  const photo = { sha256: sha, bytes: ready.bytes, defect: capture.defect, saved_ms: Date.now() };
  return record(db, capture.maker, [attached], { photo, capture: capture.id });
}

/**
 * @param {Capture} capture
 * @returns {Promise<{bytes: ArrayBuffer, width?: number, height?: number}>}
 */
async function readyBytes(capture) {
  try {
    return await smaller(new Blob([capture.bytes], { type: capture.type }));
  } catch (error) {
    if (SENDABLE.includes(capture.type) && capture.bytes.byteLength <= MOST_BYTES) return { bytes: capture.bytes };
    throw error;
  }
}
