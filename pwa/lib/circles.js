/**
 * Where the flaw is circled on photos that wait to be made ready: kept beside them, by the capture's id, so that their
 * bytes stay as the camera gave them.
 */

import { ask, read, transact } from "./db.js";
import { putWithin } from "./settings.js";

/** @import {Circle} from "./shapes" */

/**
 * Every circle, as the disk has it.
 * @param {IDBDatabase} db
 * @returns {Promise<Record<string, Circle>>}
 */
export async function circlesOn(db) {
  return (await read(db, "settings", "circles"))?.value ?? {};
}

/**
 * Keep where the flaw is circled on a photo. Resolves with all circles when the disk holds them.
 * @param {IDBDatabase} db
 * @param {string} capture  id
 * @param {Circle | null} circle  null takes it away
 */
export function keepCircle(db, capture, circle) {
  return transact(db, ["settings"], (tx) => circleWithin(tx, capture, circle));
}

/**
 * @param {IDBTransaction} tx  one that covers the settings
 * @param {string} capture
 * @param {Circle | null} circle
 * @returns {Promise<Record<string, Circle>>}
 */
export async function circleWithin(tx, capture, circle) {
  const { [capture]: before, ...others } = (await ask(tx.objectStore("settings").get("circles")))?.value ?? {};
  if (!before && !circle) return others;
  const circles = circle ? { ...others, [capture]: circle } : others;
  await putWithin(tx, { circles });
  return circles;
}
