/** Which units are due at a station of the line, in order, and which have passed it. */

import { comesBy, standingStations } from "./plant.js";

/** @import {Passing, Plant, Station, UnitView} from "./shapes" */

const NO_PLACE = ["external", "unknown", "rework"];
const ON_THE_LINE = ["planned", "on_line", "at_end_points", "in_rework"];

/**
 * Stations that a unit passes, a person's own first, else in the plant's order.
 * @param {Plant} plant
 * @param {string[]} own
 * @param {number} now
 * @returns {Station[]}
 */
export function stationsPassed(plant, own, now) {
  const places = standingStations(plant, now).filter((each) => !NO_PLACE.includes(each.kind));
  return [...places.filter((each) => own.includes(each.id)), ...places.filter((each) => !own.includes(each.id))];
}

/**
 * The passing of a station that counts: the earliest that was not taken back.
 * @param {UnitView} unit
 * @param {string} station
 */
export function passingAt(unit, station) {
  return standing(unit)
    .filter((each) => each.station === station)
    .sort((a, b) => a.passed_ms - b.passed_ms)[0];
}

/** @param {UnitView} unit @returns {Passing[]} */
function standing({ passings = [] }) {
  return passings.filter((each) => !each.withdrawn);
}

/**
 * Where the unit passed last, undefined where nobody told.
 * @param {UnitView} unit
 */
export function lastPassed(unit) {
  return [...standing(unit)].sort((a, b) => a.passed_ms - b.passed_ms).at(-1);
}

/**
 * Units that a station waits for: its work is in their build, on their line, and they have neither passed it nor been seen further on.
 * Those on the line come first, in each case in the order in which they are built.
 * @param {UnitView[]} units
 * @param {string} station
 * @param {Plant} plant
 */
export function dueAt(units, station, plant) {
  const after = (/** @type {string} */ place, /** @type {string} */ model) =>
    !!plant.origins[place]?.[model]?.includes(station);
  const isBuilt = (/** @type {string} */ model) =>
    !!plant.origins[station]?.[model] || Object.keys(plant.origins).some((place) => after(place, model));
  const isOn = (/** @type {UnitView} */ unit) => standing(unit).length > 0 || unit.state !== "planned";
  return units
    .filter(
      (unit) =>
        ON_THE_LINE.includes(unit.state) &&
        isBuilt(unit.model) &&
        comesBy(plant, unit, station) &&
        !standing(unit).some((each) => each.station === station || after(each.station, unit.model)) &&
        !unit.inspections.some((each) => after(each.point, unit.model)),
    )
    .sort((a, b) => Number(isOn(b)) - Number(isOn(a)) || a.sequence - b.sequence);
}
