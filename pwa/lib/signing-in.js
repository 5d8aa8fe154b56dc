/** Signing in at the server, taking a sign-in up again without it, and giving the PIN once more for a signature. */

import { askJson } from "./api.js";
import { clockOffset } from "./clock.js";
import { t } from "./language.js";
import { base64url } from "./proof.js";
import { lasts } from "./session.js";
import { putSettings } from "./settings.js";

/** @import {AuthorKey, Seal, Session, Settings} from "./shapes" */

const CURVE = { name: "ECDSA", namedCurve: "P-256" };
const USED_BY_MOST = 8;
const ROUNDS = 210_000; // PBKDF2 with SHA-512, the figure of common guidance (from memory)

/**
 * A new key. It never leaves this phone: the browser keeps it and signs with it.
 * @returns {Promise<{key: CryptoKey, public_key: string}>}
 */
export async function makeKey() {
  const { privateKey, publicKey } = await crypto.subtle.generateKey(CURVE, false, ["sign", "verify"]);
  return { key: privateKey, public_key: base64url(await crypto.subtle.exportKey("raw", publicKey)) };
}

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
 * The form in which a PIN is kept here, to know its person again without signal.
 * @param {string} pin
 */
async function pinKept(pin) {
  const salt = [...crypto.getRandomValues(new Uint8Array(16))];
  return { salt, hash: await pinHash(pin, salt) };
}

/**
 * A phone that was known before there were secrets makes one, and keeps it before it is sent: the server takes it as
 * this phone's at the next sign-in.
 * @param {IDBDatabase} db
 * @param {Settings} settings  changed in place
 */
async function ownSecret(db, settings) {
  const device_secret = base64url(crypto.getRandomValues(new Uint8Array(32)).buffer);
  await putSettings(db, { device_secret });
  settings.device_secret = device_secret;
}

/**
 * Sign in at the server and keep the sign-in on disk, with the key that it certified. Raises Declined or Unreachable.
 * @param {IDBDatabase} db
 * @param {Settings} settings  changed in place
 * @param {string} person
 * @param {string} pin
 * @returns {Promise<Session>}
 */
export async function signIn(db, settings, person, pin) {
  const { key, public_key } = await makeKey();
  if (settings.device && !settings.device_secret) await ownSecret(db, settings);
  const { device, device_secret, install_epoch } = settings;
  const asked = { person, pin, device: device || null, device_secret, install_epoch, public_key };
  const sent = Date.now();
  const answer = await askJson("sign-in", { method: "POST", json: JSON.stringify(asked) });
  const clock_offset_ms = clockOffset(sent, answer.server_now, Date.now());
  const { certificate, certified_until_ms, key_id, token, session: id, ends_ms, secret_given: given = [] } = answer;
  /** @type {Session} */
  const session = {
    person: answer.person,
    token,
    session: id,
    ends_ms,
    certified_until_ms,
    pin: await pinKept(pin),
    given,
  };
  const { code } = session.person;
  const sessions = [...settings.sessions.filter((each) => each.person.code !== code), session];
  // The newest key of a person vouches for whatever of theirs is still here; so one each is kept.
  /** @type {AuthorKey[]} */
  const keys = [
    ...settings.keys.filter((each) => each.person !== code),
    { person: code, key, public_key, certificate, key_id },
  ];
  const languages = ownLanguage(settings, code, answer.language ?? "");
  const changes = { sessions, keys, key_id, clock_offset_ms, person: code, used_by: usedBy(settings, code), languages };
  await putSettings(db, changes);
  Object.assign(settings, changes);
  return session;
}

/**
 * A person's language as the server knows it; what was chosen here and not told yet is later than that.
 * @param {Settings} settings
 * @param {string} code
 * @param {string} tag
 */
function ownLanguage({ languages }, code, tag) {
  return tag && languages[code]?.told !== false ? { ...languages, [code]: { tag, told: true } } : languages;
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
  if (!session || !lasts(session, serverNow) || (await pinHash(pin, session.pin.salt)) !== session.pin.hash)
    return null;
  const changes = { person, used_by: usedBy(settings, person) };
  await putSettings(db, changes);
  Object.assign(settings, changes);
  return session;
}

/**
 * Who used this phone, the last first: a shift finds its own names on top, signed out or not.
 * @param {Settings} settings
 * @param {string} person
 */
function usedBy({ used_by }, person) {
  return [person, ...used_by.filter((each) => each !== person)].slice(0, USED_BY_MOST);
}

/**
 * Give the PIN or passphrase once more: the server checks it and certifies the key for this one signature. Raises
 * Declined or Unreachable.
 * @param {Settings} settings
 * @param {Session} session
 * @param {string} pin
 * @param {string} operation  id of the record that is the signature
 * @returns {Promise<Seal>}
 */
export async function sealFor(settings, session, pin, operation) {
  const own = settings.keys.find((each) => each.person === session.person.code);
  if (!own) throw new Error(t`this sign-in has no key: sign in again`);
  const asked = { pin, operation, public_key: own.public_key };
  const answer = await askJson("signature", { method: "POST", token: session.token, json: JSON.stringify(asked) });
  return { key: own.key, certificate: answer.certificate };
}

/**
 * Change one's own PIN or passphrase at the server, and keep by what this phone knows the person again. Raises Declined
 * or Unreachable; after that it may have been changed all the same.
 * @param {IDBDatabase} db
 * @param {Settings} settings  changed in place
 * @param {Session} session
 * @param {string} pin
 * @param {string} next
 */
export async function changeOwn(db, settings, session, pin, next) {
  await askJson("secret", { method: "POST", token: session.token, json: JSON.stringify({ pin, new: next }) });
  const changed = { ...session, given: [], pin: await pinKept(next) };
  const sessions = settings.sessions.map((each) => (each.token === session.token ? changed : each));
  await putSettings(db, { sessions });
  settings.sessions = sessions;
}

/**
 * Who gave the person of a sign-in their PIN or passphrase, where it is still to be told on this phone: latest first.
 * @param {Settings} settings
 * @param {Session | null} session
 */
export function givenUntold(settings, session) {
  const given = session?.given ?? [];
  return session && given.length && given[0].at_ms > (settings.secrets_told[session.person.code] ?? 0) ? given : [];
}
