/** What was found where so far: which types to offer first in a zone, and which zones to look at twice. */

import { typesOf } from "./plant.js";

/** @import {Plant, Type, Zone} from "./shapes" */

export const MOST_IN_VIEW = 9;

const FEW = 3; // below so many found in a zone chance says as much
const TIMES = 2; // what the mean of a model's zones is passed by: a sign on every zone would say nothing

/**
 * How often each type was found, in each zone and each kind of zone, over the units that this phone holds.
 * @param {Plant} plant
 * @param {Iterable<{model: string, defects: {zone: string, type: string, state: string}[]}>} units
 * @returns {Map<string, number>}  by "type zone-key" and "type kind"
 */
export function history(plant, units) {
  const kinds = new Map(plant.zones.map((zone) => [zone.key, zone.kind]));
  /** @type {Map<string, number>} */
  const counts = new Map();
  const add = (/** @type {string} */ key) => counts.set(key, (counts.get(key) ?? 0) + 1);
  for (const unit of units) {
    for (const defect of unit.defects) {
      if (defect.state === "withdrawn") continue;
      add(`${defect.type} ${defect.zone}`);
      add(`${defect.type} ${kinds.get(defect.zone)}`);
    }
  }
  return counts;
}

/**
 * All types that can stand in this zone of this model, the likeliest first: those seen in this very zone, then in
 * zones of its kind, then in the order of the plant's table.
 * @param {Plant} plant
 * @param {Zone} zone
 * @param {Map<string, number>} counts
 */
export function typesForZone(plant, zone, counts) {
  const weight = (/** @type {Type} */ type) =>
    3 * (counts.get(`${type.code} ${zone.key}`) ?? 0) + (counts.get(`${type.code} ${zone.kind}`) ?? 0);
  return typesOf(plant, zone.model)
    .filter((type) => type.zone_kinds.includes(zone.kind))
    .map((type, place) => ({ type, place, weight: weight(type) }))
    .sort((a, b) => b.weight - a.weight || a.place - b.place)
    .map((each) => each.type);
}

/**
 * The types in view: at most nine. Rare critical ones never lose their place to frequent small ones.
 * @param {Type[]} types  likeliest first
 */
export function inView(types) {
  const critical = types.filter((type) => type.severity === "critical").slice(0, MOST_IN_VIEW);
  const others = types.filter((type) => type.severity !== "critical").slice(0, MOST_IN_VIEW - critical.length);
  const chosen = new Set([...critical, ...others]);
  return types.filter((type) => chosen.has(type));
}

/**
 * The zones to look at twice: where at least three defects were found, and twice what a zone of this model had in the
 * mean, on the units that this phone holds.
 * @param {Zone[]} zones  all of one model
 * @param {Map<string, number>} counts
 * @returns {Set<string>}
 */
export function oftenFound(zones, counts) {
  const found = zones.map(({ key }) =>
    [...counts].reduce((sum, [name, count]) => (name.endsWith(` ${key}`) ? sum + count : sum), 0),
  );
  const least = Math.max(FEW, (TIMES * found.reduce((sum, count) => sum + count, 0)) / found.length);
  return new Set(zones.filter((_, place) => found[place] >= least).map(({ key }) => key));
}
