/** Who is signed in on this phone: a sign-in at the server, which lasts a shift, offline too. */

import { askJson } from "./api.js";
import { putSettings } from "./settings.js";

/** @import {Session, Settings} from "./shapes" */

const ROUNDS = 210_000; // PBKDF2 with SHA-512, the figure of common guidance (from memory)

/**
 * @param {string} pin
 * @param {number[]} salt
 */
async function pinHash(pin, salt) {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, ["deriveBits"]);
  const options = { name: "PBKDF2", hash: "SHA-512", salt: new Uint8Array(salt), iterations: ROUNDS };
  const bits = await crypto.subtle.deriveBits(options, key, 256);
  return Array.from(new Uint8Array(bits), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Sign in at the server and keep the sign-in on disk. Raises Declined or Unreachable.
 * @param {IDBDatabase} db
 * @param {Settings} settings  changed in place
 * @param {string} person
 * @param {string} pin
 * @returns {Promise<Session>}
 */
export async function signIn(db, settings, person, pin) {
  const asked = { person, pin, device: settings.device || null, install_epoch: settings.install_epoch };
  const answer = await askJson("sign-in", { method: "POST", json: JSON.stringify(asked) });
  const salt = [...crypto.getRandomValues(new Uint8Array(16))];
  /** @type {Session} */
  const session = {
    person: answer.person, token: answer.token, session: answer.session, ends_ms: answer.ends_ms,
    pin: { salt, hash: await pinHash(pin, salt) },
  };
  const sessions = [...settings.sessions.filter((each) => each.person.code !== answer.person.code), session];
  // The device's code is given once: operations already recorded carry it.
  const changes = { sessions, person: answer.person.code, device: settings.device || answer.device };
  await putSettings(db, changes);
  Object.assign(settings, changes);
  return session;
}

/**
 * Take up a sign-in that still lasts, without the server. Null when there is none or the PIN is another.
 * @param {IDBDatabase} db
 * @param {Settings} settings  changed in place
 * @param {string} person
 * @param {string} pin
 * @param {number} serverNow
 */
export async function takeUp(db, settings, person, pin, serverNow) {
  const session = settings.sessions.find((each) => each.person.code === person);
  if (!session || !lasts(session, serverNow) || (await pinHash(pin, session.pin.salt)) !== session.pin.hash) return null;
  await putSettings(db, { person });
  settings.person = person;
  return session;
}

/**
 * @param {Session | null} session
 * @param {number} serverNow
 */
export function lasts(session, serverNow) {
  return !!session && !session.ended && serverNow < session.ends_ms;
}

/**
 * @param {Settings} settings
 * @returns {Session | null}
 */
export function present(settings) {
  return settings.sessions.find((each) => each.person.code === settings.person) ?? null;
}

/**
 * Leave the phone to somebody else; the sign-in can be taken up again with the PIN.
 * @param {IDBDatabase} db
 * @param {Settings} settings
 */
export async function lock(db, settings) {
  await putSettings(db, { person: "" });
  settings.person = "";
}

/**
 * End this phone's hold on the sign-in. What was recorded stays.
 * @param {IDBDatabase} db
 * @param {Settings} settings
 */
export async function signOut(db, settings) {
  const changes = { sessions: settings.sessions.filter((each) => each.person.code !== settings.person), person: "" };
  await putSettings(db, changes);
  Object.assign(settings, changes);
}

/**
 * The server no longer knows this token: remember it, so that the screen can say so.
 * @param {IDBDatabase} db
 * @param {Settings} settings
 * @param {string} token
 */
export async function markEnded(db, settings, token) {
  const sessions = settings.sessions.map((each) => (each.token === token ? { ...each, ended: true } : each));
  await putSettings(db, { sessions });
  settings.sessions = sessions;
}
