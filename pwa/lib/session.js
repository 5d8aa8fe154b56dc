/** Who is signed in on this phone: a sign-in at the server, which lasts a shift, offline too. */

import { rolesOf } from "./roles.js";
import { putSettings } from "./settings.js";

/** @import {Session, Settings} from "./shapes" */

/**
 * @param {Session | null} session
 * @param {number} serverNow
 */
export function lasts(session, serverNow) {
  return !!session && !session.ended && serverNow < session.ends_ms;
}

/**
 * Who is signed in, while their key proves what they record; null for nobody.
 * @param {Settings} settings
 * @returns {Session | null}
 */
export function present(settings) {
  const session = settings.sessions.find((each) => each.person.code === settings.person);
  return session && Date.now() + settings.clock_offset_ms < session.certified_until_ms ? session : null;
}

/**
 * The screen that the app opens on: whoever answers for stations before all else works at one.
 * @param {Session | null} session
 */
export function opensOn(session) {
  return rolesOf(session?.person)[0] === "station_lead" ? "station" : "units";
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
