/** Who is signed in on this phone: a sign-in at the server, which lasts a shift, offline too. */

import { ask, transact } from "./db.js";
import { rolesOf } from "./roles.js";
import { putSettings, putWithin } from "./settings.js";

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
 * Change what is kept of the sign-in of a token, as it stands in the store: another may begin or end meanwhile.
 * @param {IDBDatabase} db
 * @param {Settings} settings
 * @param {string} token
 * @param {Partial<Session>} changes  such as that the server no longer knows it, so that the screen can say so
 */
export async function changeSession(db, settings, token, changes) {
  const changed = (/** @type {Session[]} */ all) =>
    all.map((each) => (each.token === token ? { ...each, ...changes } : each));
  await transact(db, ["settings"], async (tx) => {
    const kept = await ask(tx.objectStore("settings").get("sessions"));
    await putWithin(tx, { sessions: changed(kept?.value ?? []) });
  });
  settings.sessions = changed(settings.sessions);
}
