/** Readings of a test: what was typed, what it says against the limits, and what a failure asks of the next value. */

import { number, t } from "./language.js";
import { isWithin } from "./plant.js";

/** @import {Result, Test, UnitView} from "./shapes" */

/** @typedef {"" | "above" | "below"} Beyond  a reading past the end of the instrument's range, as >200 */

/**
 * The number that was typed, a comma taken as the decimal point; null where it is none.
 * @param {string} typed
 */
export function numberTyped(typed) {
  const plain = typed.replace(/\s/g, "").replace(",", ".").replace("−", "-");
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) && Math.abs(Number(plain)) <= 1e9 ? Number(plain) : null;
}

/**
 * A reading as typed, with its sign before it where the instrument's range ended; null where it is none.
 * @param {string} typed
 * @returns {{value: number, beyond: Beyond} | null}
 */
export function readingTyped(typed) {
  const [, sign, rest] = /^\s*([<>]?)(.*)$/s.exec(typed) ?? ["", "", ""];
  const value = numberTyped(rest);
  const beyond = sign === ">" ? "above" : sign === "<" ? "below" : "";
  return value === null ? null : { value, beyond };
}

/**
 * A reading in words: an open-ended one never as a plain number.
 * @param {{value: number | null, beyond: string}} reading
 * @param {string} unit
 */
export function readingWords({ value, beyond }, unit) {
  return value === null ? "" : `${beyond === "above" ? ">" : beyond === "below" ? "<" : ""}${number(value)} ${unit}`;
}

/**
 * Whether a reading keeps the limits, null where an open-ended one does not tell. The server judges the same way.
 * @param {Test} test
 * @param {number} value
 * @param {string} beyond
 * @returns {boolean | null}
 */
export function judged(test, value, beyond) {
  if (!beyond) return isWithin(test, value);
  const [near, far] = beyond === "above" ? [test.lower, test.upper] : [test.upper, test.lower];
  const sign = beyond === "above" ? 1 : -1;
  if (far !== null) return sign * value >= sign * far ? false : null;
  return near === null || sign * value >= sign * near ? true : null;
}

/**
 * Why a value has to be asked about, "" where it lies inside what the tests' table calls plausible.
 * @param {Test} test
 * @param {number} value
 */
export function implausible(test, value) {
  if (test.least !== null && value < test.least)
    return t`${number(value)} ${test.unit} is less than ${number(test.least)}, the least that ${test.id} can plausibly show.`;
  if (test.most !== null && value > test.most)
    return t`${number(value)} ${test.unit} is more than ${number(test.most)}, the most that ${test.id} can plausibly show.`;
  return "";
}

/**
 * @param {UnitView} unit
 * @param {string} test
 * @returns {Result[]}  in order; a view that an earlier server sent has none
 */
export function resultsOf(unit, test) {
  return (unit.results ?? []).filter((each) => each.test === test);
}

/**
 * The result that counts: the latest that was not taken back.
 * @param {Result[]} results
 */
export function standingOf(results) {
  return results.findLast((each) => !each.taken_back);
}

/**
 * The failure that a further value has to name a reason for, undefined for none.
 * @param {Result[]} results
 */
export function failureOf(results) {
  const standing = standingOf(results);
  return standing && !standing.passed && !standing.voided ? standing : undefined;
}

/**
 * Whether this person may take a result back as a slip: their own, while its inspection runs or on the same day.
 * @param {UnitView} unit
 * @param {Result} result
 * @param {string} me
 * @param {number} now
 */
export function mayTakeBack(unit, result, me, now) {
  if (result.taken_back || result.tester !== me || unit.state === "released") return false;
  if (result.inspection === null) return new Date(result.tested_ms).toDateString() === new Date(now).toDateString();
  return unit.inspections.find((each) => each.id === result.inspection)?.ended_ms === null;
}
