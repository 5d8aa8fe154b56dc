/** Operations as this phone makes them: identity, envelope and body. Shapes are the server's. */

/** @import {Fact, Maker, Operation, Severity} from "./shapes" */

export const SCHEMA = 1;

/**
 * @param {Fact} fact
 * @param {Maker} maker
 * @param {number} seq
 * @param {{wall_ms: number, tz_min: number, mono_ms: number}} time
 * @returns {Operation}
 */
export function operation(fact, maker, seq, time) {
  return {
    id: fact.id,
    device: maker.device,
    install_epoch: maker.install_epoch,
    seq,
    kind: fact.kind,
    schema: SCHEMA,
    unit: fact.unit,
    body: fact.body,
    author: maker.author,
    deps: fact.deps ?? [],
    seen_through: maker.seen_through,
    wall_ms: time.wall_ms,
    tz_min: time.tz_min,
    session: maker.session,
    mono_ms: time.mono_ms,
    ...(maker.plant ? { plant: maker.plant } : {}),
  };
}

/** This phone's clocks now: the wall clock as claimed, its offset from UTC, and the page's own steady clock. */
export function timeNow() {
  const now = new Date();
  return { wall_ms: now.getTime(), tz_min: -now.getTimezoneOffset() || 0, mono_ms: Math.floor(performance.now()) };
}

/**
 * Fields that were left empty are left out: a blank is not a value.
 * @param {Record<string, any>} fields
 */
function filled(fields) {
  return Object.fromEntries(
    Object.entries(fields).filter(([, value]) => value !== "" && value !== null && value !== undefined),
  );
}

/**
 * @param {string} kind
 * @param {string} unit
 * @param {Record<string, any>} body
 * @param {{id?: string, deps?: string[]}} [more]
 * @returns {Fact}
 */
export function fact(kind, unit, body, more = {}) {
  return { id: more.id ?? uuid7(), kind, unit, body: filled(body), deps: more.deps ?? [] };
}

const ORDER = { minor: 0, major: 1, critical: 2 };

/**
 * @param {Severity} severity
 * @param {Severity} than
 */
export function isLower(severity, than) {
  return ORDER[severity] < ORDER[than];
}

/**
 * A version 7 UUID (RFC 9562, section 5.7): 48 bits of milliseconds, then random bits.
 * @param {number} milliseconds  since 1970 UTC
 * @param {Uint8Array} random  ten bytes; version and variant bits are set over them
 */
export function uuid7From(milliseconds, random) {
  const bytes = new Uint8Array(16);
  let rest = milliseconds;
  for (let place = 5; place >= 0; place -= 1) {
    bytes[place] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes.set(random.subarray(0, 10), 6);
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = hexOf(bytes);
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

let lastMilliseconds = 0;

/** A new identity. A clock that stands still or steps back still gives rising identities within one page. */
export function uuid7(now = Date.now()) {
  lastMilliseconds = Math.max(now, lastMilliseconds + 1);
  return uuid7From(lastMilliseconds, crypto.getRandomValues(new Uint8Array(10)));
}

/** @param {Uint8Array} bytes */
const hexOf = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");

/** @param {BufferSource} bytes */
export async function sha256(bytes) {
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return hexOf(new Uint8Array(digest));
}

/**
 * A lot as the server takes it: without what divides such codes, and each letter written in one way.
 * @param {string} typed
 */
export function lotTyped(typed) {
  return typed
    .normalize("NFC")
    .replace(/[,;|\s]+/g, " ")
    .trim();
}
