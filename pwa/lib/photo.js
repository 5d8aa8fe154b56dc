/** Photos: kept as the camera gave them, then made smaller, without position data, and named by their own bytes. */

import { circlesOn } from "./circles.js";
import { ask, readAll, remove, transact } from "./db.js";
import { fact, sha256 } from "./facts.js";
import { t } from "./language.js";
import { record } from "./outbox.js";
import { drawnAnew, isWhole, readThrough } from "./picture.js";

/** @import {Capture, Entry} from "./shapes" */

export const LONG_EDGE = 2048;
const QUALITY = 0.85;

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
  if ((await sha256(kept.bytes)) !== capture.sha256)
    throw new Error(t`the phone did not keep the photo as it was taken; take it again`);
}

/** Why a photo was not kept, in the words of whoever holds the camera. */
export class Unreadable extends Error {}

/**
 * Keep a photo that this browser can read; resolves when the disk holds it. It is kept first, since the page may end at
 * any moment, and taken away again where it cannot be read: nobody is told "saved" of a picture that nobody will see.
 * @param {IDBDatabase} db
 * @param {Capture} capture
 */
export async function keepReadable(db, capture) {
  await keepCapture(db, capture);
  try {
    await readable(capture, readThrough);
  } catch (error) {
    await remove(db, "captures", capture.id);
    throw error;
  }
}

/**
 * Make one capture ready to send: in one transaction the smaller photo and the operation that names it come, and the
 * capture goes.
 * @param {IDBDatabase} db
 * @param {Capture} capture
 * @returns {Promise<Entry[]>}
 */
export async function makeReady(db, capture) {
  // Always drawn anew: what cannot be drawn anew would carry where it was taken, so it is never sent as it is.
  const ready = await readable(capture, (blob) => drawnAnew(blob, LONG_EDGE, QUALITY));
  const sha = await sha256(ready.bytes);
  const circle = (await circlesOn(db))[capture.id];
  const body = {
    defect: capture.defect,
    sha256: sha,
    bytes: ready.bytes.byteLength,
    width: ready.width,
    height: ready.height,
    view: capture.view,
    ...(circle && { circle }),
  };
  const attached = fact("photo_attached", capture.unit, body, { deps: [capture.defect] });
  const photo = { sha256: sha, bytes: ready.bytes, defect: capture.defect, saved_ms: Date.now() };
  return record(db, capture.maker, [attached], { photo, capture: capture.id });
}

/**
 * What `read` makes of a photo that this browser can read. Rejects with Unreadable, which says what would do.
 * @template T
 * @param {Capture} capture
 * @param {(blob: Blob) => Promise<T>} read
 * @returns {Promise<T>}
 */
async function readable({ bytes, type }, read) {
  if (!bytes.byteLength) throw new Unreadable(t`the camera gave an empty file. Take the photo again`);
  if (!isWhole(bytes)) throw new Unreadable(t`only a part of the photo arrived. Take it again`);
  try {
    return await read(new Blob([bytes], { type }));
  } catch (error) {
    const kind = /hei[cf]/.test(type)
      ? t`this browser cannot open HEIC pictures: set the camera to JPEG (most compatible)`
      : t`this browser cannot read it`;
    throw new Unreadable(t`${kind}. Take the photo again`, { cause: error });
  }
}
