/** Operations as this phone makes them: the envelope, and one body for each kind. Shapes are the server's. */

import { uuid7 } from "./uuid7.js";

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
  return Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== "" && value !== null && value !== undefined));
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
