/** Named values that outlive the page: who is signed in, where sync stands, how the screen is set. */

import { uuid7 } from "./facts.js";
import { ask, isFull, read, readAll, transact } from "./db.js";
import { lastNoted } from "./witness.js";

/** @import {Settings} from "./shapes" */

/** @type {Settings} */
const DEFAULTS = {
  install_epoch: "",
  device: "",
  device_secret: "",
  next_seq: 1,
  sessions: [],
  keys: [],
  key_id: "",
  person: "",
  station: "",
  server_epoch: "",
  chain: null,
  history_differs_ms: 0,
  pulled_through: 0,
  clock_offset_ms: 0,
  synced_ms: 0,
  targets: "standard",
  theme: "light",
  zones_as: "drawing",
  hand: "right",
  told_by: "eye",
  language: "",
  languages: {},
  circles: {},
  secrets_told: {},
  cautions_seen: {},
  instruments: {},
  people: [],
  used_by: [],
  forms: {},
  lost: null,
};

// Room that is given up when the phone is full, so that the text of a defect still has a place.
const BALLAST = "ballast";
const BALLAST_BYTES = 1_000_000;

/**
 * @param {IDBDatabase} db
 * @returns {Promise<Settings>}
 */
export async function loadSettings(db) {
  const rows = await readAll(db, "settings");
  const known = Object.fromEntries(rows.filter((row) => row.name in DEFAULTS).map((row) => [row.name, row.value]));
  const settings = { ...DEFAULTS, ...known };
  if (!settings.install_epoch) {
    // A number noted elsewhere and no store: it was cleared, by the browser or by a person. The phone keeps its name.
    const last = lastNoted();
    const begun = { install_epoch: uuid7(), device: last?.device ?? "", lost: last && { ...last, server_seq: null } };
    await putSettings(db, begun);
    Object.assign(settings, begun);
  }
  return settings;
}

/**
 * @param {IDBDatabase} db
 * @param {Partial<Settings>} changes
 */
export function putSettings(db, changes) {
  return transact(db, ["settings"], (tx) => putWithin(tx, changes));
}

/**
 * @param {IDBTransaction} tx  one that covers the settings
 * @param {Partial<Settings>} changes
 */
export async function putWithin(tx, changes) {
  const store = tx.objectStore("settings");
  for (const [name, value] of Object.entries(changes)) await ask(store.put({ name, value }));
}

/** @param {IDBDatabase} db */
export async function layBallast(db) {
  if (await read(db, "settings", BALLAST)) return;
  const value = crypto.getRandomValues(new Uint8Array(65_536));
  const bytes = new Uint8Array(BALLAST_BYTES).map((_, place) => value[place % value.length]);
  await transact(db, ["settings"], (tx) => ask(tx.objectStore("settings").put({ name: BALLAST, value: bytes })));
}

/**
 * Write text; where the phone is full, give up the reserve and write it once more.
 * @template T
 * @param {IDBDatabase} db
 * @param {() => Promise<T>} work
 * @returns {Promise<T>}
 */
export async function withReserve(db, work) {
  try {
    return await work();
  } catch (error) {
    if (!isFull(error)) throw error;
    await transact(db, ["settings"], (tx) => ask(tx.objectStore("settings").delete(BALLAST)));
    return work();
  }
}

/** Which version of the app this is. */
export const version = () => /\/a\/([^/]+)\//.exec(import.meta.url)?.[1] ?? "development";
