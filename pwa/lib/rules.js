/** The server's rules that a phone can know: what it would refuse is not offered. */

import { openList } from "./fold.js";
import { t } from "./language.js";
import { typeOf } from "./plant.js";
import { MANAGER, has } from "./roles.js";

/** @import {Context, Defect, Plant, Severity, UnitView} from "./shapes" */
/** @import {InRoles} from "./roles.js" */

const ALL = /** @type {Severity[]} */ (["critical", "major", "minor"]);

/**
 * The severities that this person may give a defect of this type; `now` is what it has, null for a new one.
 * @param {Plant} plant
 * @param {string} type
 * @param {Severity | null} now
 * @param {InRoles} me
 * @param {boolean} retyped  whether its type is changed
 */
export function severitiesFor(plant, type, now, me, retyped) {
  const isHeld = now === "critical" || ((now === null || retyped) && typeOf(plant, type)?.severity === "critical");
  return isHeld && !has(me, MANAGER) ? ALL.slice(0, 1) : ALL;
}

/**
 * The keys for these severities: the plant's own that count as one of them, else they themselves; the gravest first.
 * @param {Plant} plant
 * @param {Severity[]} severities
 * @returns {{code: string, counts_as: Severity, grade: string}[]}
 */
export function severityKeys(plant, severities) {
  if (!plant.severities?.length) return severities.map((each) => ({ code: each, counts_as: each, grade: "" }));
  return plant.severities
    .filter((each) => severities.includes(each.counts_as))
    .map(({ code, counts_as }) => ({ code, counts_as, grade: code }));
}

/**
 * What a defect can be a duplicate of: for a critical, by anybody but the manager, another critical only.
 * @param {UnitView} unit
 * @param {Defect} defect
 * @param {InRoles} me
 */
export function twinsFor(unit, defect, me) {
  const others = openList(unit).filter((each) => each.id !== defect.id);
  return isHeldCritical(defect, me) ? others.filter((each) => each.severity === "critical") : others;
}

/**
 * Whether a defect is a critical that this person cannot withdraw as none.
 * @param {Defect} defect
 * @param {InRoles} me
 */
export function isHeldCritical(defect, me) {
  return defect.severity === "critical" && (!has(me, MANAGER) || repairedBy(defect, me));
}

/**
 * Whether somebody repaired it themselves, so that another looks again or decides.
 * @param {Defect} defect
 * @param {InRoles} me
 */
function repairedBy(defect, me) {
  return !!defect.repaired_by && defect.repaired_by === me?.code;
}

/**
 * Why this person cannot withdraw a defect in any way, "" where they can.
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Defect} defect
 */
export function withdrawalBar({ session }, unit, defect) {
  const me = session?.person;
  if (!isHeldCritical(defect, me) || twinsFor(unit, defect, me).length) return "";
  return has(me, MANAGER)
    ? t`You repaired this critical: another quality manager withdraws it.`
    : t`Only the quality manager withdraws a critical: ask at the line.`;
}
