/** Which types to offer first in a zone, and how plain words find a type. */

import { typesOf } from "./plant.js";

/** @import {Plant, Type, Zone} from "./shapes" */

export const MOST_IN_VIEW = 9;

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

// What people say at the unit → the words of the type list. Common practice, no source.
/** @type {Record<string, string[]>} */
const SAID = {
  drip: ["leak"], wet: ["leak", "moisture"], damp: ["moisture"], water: ["leak", "water"], dent: ["panel", "scratch"],
  scuff: ["scratch"], mark: ["marked", "scratch", "stained"], scrape: ["scratch"], dirty: ["dirt"], dust: ["dirt"], mess: ["dirt"],
  screw: ["fixing", "screw"], bolt: ["fixing", "torque"], rivet: ["fixing"], drawer: ["runner"], cupboard: ["hinge", "catch", "furniture"],
  silicone: ["sealant"], glue: ["adhesive"], bulb: ["light"], lamp: ["light"], socket: ["socket"], plug: ["socket"], smell: ["gas"],
  sticker: ["decal"], label: ["sign", "plate", "decal"], tyre: ["tyre"], tire: ["tyre"], nut: ["wheel-nut"], brake: ["brake"],
  stuck: ["stiff"], tight: ["stiff"], crooked: ["misaligned", "level"], wobbly: ["loose"], rattle: ["loose"], bubble: ["bubbled", "hollow"],
  loo: ["toilet"], wc: ["toilet"], key: ["keys"], book: ["manual"], missing: ["missing"], alarm: ["alarm"], rust: ["coating"], paint: ["coating"],
  earth: ["protective", "bond"], trip: ["rcd"], heater: ["heater"], window: ["window"], hatch: ["hatch"], door: ["door"],
};

/**
 * Types that plain words find, the best first: every word must meet the type's name, group or code, in the list's own
 * words or in those that people say for them.
 * @param {Type[]} types
 * @param {string} said
 */
export function searchTypes(types, said) {
  const words = said.toLowerCase().split(/[^a-z0-9-]+/).filter((word) => word.length > 1);
  if (!words.length) return [];
  return types
    .map((type, place) => ({ type, place, score: Math.min(...words.map((word) => wordScore(type, word))) }))
    .filter((each) => each.score > 0)
    .sort((a, b) => b.score - a.score || a.place - b.place)
    .map((each) => each.type);
}

/**
 * @param {Type} type
 * @param {string} word
 */
function wordScore(type, word) {
  const name = `${type.name} ${type.code}`.toLowerCase();
  const stem = word.replace(/(ing|ed|es|s|y)$/, "");
  if (starts(name, word)) return 4;
  if (stem.length > 2 && starts(name, stem)) return 3;
  const means = SAID[word] ?? SAID[stem] ?? [];
  if (means.some((meant) => starts(name, meant))) return 2;
  return starts(type.group_name.toLowerCase(), stem.length > 2 ? stem : word) ? 1 : 0;
}

/**
 * @param {string} text
 * @param {string} word
 */
function starts(text, word) {
  return text.split(/[^a-z0-9-]+/).some((each) => each.startsWith(word));
}
