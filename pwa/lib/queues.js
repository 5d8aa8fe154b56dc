/** Whose work waits where: the units of this phone in the order in which a role takes them up. */

import { inHandBy, openList } from "./fold.js";
import { inWords, t } from "./language.js";
import { rolesOf } from "./roles.js";

/** @import {Defect, Person, UnitView} from "./shapes" */

/** @typedef {{title: string, units: UnitView[]}} Queue */

/** @typedef {(unit: UnitView, me: Person) => boolean} Belongs */

const PLACES = ["at_end_points", "in_rework", "on_line", "planned", "released", "cancelled"];

const mine = /** @type {[string, Belongs]} */ (
  inWords(["In your hands", (unit, me) => inHandBy(unit).includes(me.code)])
);
const again = /** @type {[string, Belongs]} */ (
  inWords([
    "Look at again",
    (unit, me) => openList(unit).some((each) => each.state === "repaired" && each.repaired_by !== me.code),
  ])
);
const failed = /** @type {[string, Belongs]} */ (inWords(["Repair again", (unit) => openList(unit).some(isFailed)]));
const repair = /** @type {[string, Belongs]} */ (
  inWords(["To repair", (unit) => openList(unit).some((each) => each.state === "open")])
);
const inspect = /** @type {[string, Belongs]} */ (
  inWords(["To inspect", (unit) => unit.state === "at_end_points" && blockedBy(unit, "zone", "identity")])
);
const test = /** @type {[string, Belongs]} */ (
  inWords(["To test next", (unit) => blockedBy(unit, "test", "failure_untold")])
);
const leave = /** @type {[string, Belongs]} */ (
  inWords([
    "Nothing blocks: for a signature",
    (unit) => unit.state !== "released" && !unit.blockers.length && !openList(unit).length,
  ])
);
const word = /** @type {[string, Belongs]} */ (
  inWords([
    "Waits for your word",
    (unit, me) =>
      unit.defects.some(
        (each) =>
          each.origin_state === "suspected" && each.state !== "withdrawn" && me.stations.includes(each.suspected ?? ""),
      ),
  ])
);

/** @type {Record<string, [string, Belongs][]>} */
const BY_ROLE = {
  inspector: [mine, again, inspect, leave],
  tester: [mine, test, again],
  repairer: [mine, failed, repair],
  dispatch: [leave],
  quality_manager: [mine, leave],
  station_lead: [word],
};
// With several roles the work of each stands in this order, which is each one's own too.
const ORDER = [mine, failed, word, test, again, inspect, repair, leave];
const REST = /** @type {Record<string, string>} */ (
  inWords({
    dispatch: "May not leave yet",
    quality_manager: "May not leave yet",
  })
);

/**
 * @param {Defect} defect
 */
function isFailed({ state, cycles }) {
  return state === "open" && cycles > 0;
}

/**
 * @param {UnitView} unit
 * @param {string[]} codes
 */
function blockedBy(unit, ...codes) {
  return unit.blockers.some((each) => codes.includes(each.code));
}

/** @param {Person} me */
function queuesFor(me) {
  const own = rolesOf(me).flatMap((role) => BY_ROLE[role] ?? [mine]);
  return ORDER.filter((queue) => own.includes(queue));
}

/** @param {UnitView} unit */
function oldest(unit) {
  return Math.min(...openList(unit).map((each) => each.found_ms), Infinity);
}

/**
 * Each unit once, in the first queue of their roles that it belongs to; in a queue by place on the line, then the longest
 * open first.
 * @param {UnitView[]} units
 * @param {Person} me
 * @returns {Queue[]}  without empty ones
 */
export function queuesOf(units, me) {
  const queues = [[t`Alarm`, (/** @type {UnitView} */ unit) => !!unit.alarm], ...queuesFor(me)];
  const rest = rolesOf(me).map((role) => REST[role]);
  /** @type {Set<UnitView>} */
  const taken = new Set();
  const made = [...queues, [rest.find((title) => title) ?? t`Others in work`, () => true]].map(([title, belongs]) => {
    const own = units.filter((unit) => !taken.has(unit) && /** @type {Belongs} */ (belongs)(unit, me));
    own.forEach((unit) => taken.add(unit));
    own.sort(
      (a, b) => PLACES.indexOf(a.state) - PLACES.indexOf(b.state) || oldest(a) - oldest(b) || a.sequence - b.sequence,
    );
    return { title: t(/** @type {string} */ (title)), units: own };
  });
  return made.filter((queue) => queue.units.length);
}
