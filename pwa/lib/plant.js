/** Look-ups in the plant that the server sent: views, zones in walk order, types, tests, where a defect can come from. */

/** @import {Person, Plant, Station, Test, View} from "./shapes" */

/**
 * @template {{models: string[]}} T
 * @param {T} thing
 * @param {string} model
 */
function isFor(thing, model) {
  return !thing.models.length || thing.models.includes(model);
}

/**
 * A model's zones in walk order.
 * @param {Plant} plant
 * @param {string} model
 * @param {string} [view]
 */
export function zonesOf(plant, model, view) {
  return plant.zones
    .filter((zone) => zone.model === model && (!view || zone.view === view))
    .sort((a, b) => a.walk_order - b.walk_order || a.layer - b.layer || (a.key < b.key ? -1 : 1));
}

/**
 * The views of a model in the order of the walk.
 * @param {Plant} plant
 * @param {string} model
 */
export function viewsOf(plant, model) {
  const first = (/** @type {View} */ view) => zonesOf(plant, model, view.id)[0]?.walk_order;
  return plant.views.filter((view) => first(view) !== undefined).sort((a, b) => Number(first(a)) - Number(first(b)));
}

/**
 * @param {Plant} plant
 * @param {string} model
 * @param {string} key
 */
export function zoneOf(plant, model, key) {
  return plant.zones.find((zone) => zone.model === model && zone.key === key);
}

/**
 * A view's name as said on a button: "Front" of "Front, seen from in front".
 * @param {View} view
 */
export function shortName(view) {
  return view.name.split(/[,(:]/)[0].trim();
}

/**
 * The zone in words, with the view it stands in: "Entry door · Nearside".
 * @param {Plant} plant
 * @param {string} model
 * @param {string} key
 */
export function zoneWords(plant, model, key) {
  const zone = zoneOf(plant, model, key);
  const view = plant.views.find((each) => each.id === zone?.view);
  return zone ? `${zone.name} · ${view ? shortName(view) : zone.view}` : key;
}

/**
 * Where keys, papers and options are recorded: the plant's zone for the whole unit, else the plate where they are matched.
 * @param {Plant} plant
 * @param {string} model
 */
export function wholeUnitZone(plant, model) {
  const zones = zonesOf(plant, model);
  return zones.find((zone) => zone.kind === "whole") ?? zones.find((zone) => zone.kind === "plate");
}

/**
 * @param {Plant} plant
 * @param {string} code
 */
export function typeOf(plant, code) {
  return plant.types.find((type) => type.code === code);
}

/**
 * @param {Plant} plant
 * @param {string} model
 */
export function typesOf(plant, model) {
  return plant.types.filter((type) => isFor(type, model));
}

/**
 * @param {Plant} plant
 * @param {string} model
 * @param {string} [point]
 */
export function testsOf(plant, model, point) {
  return plant.tests.filter((test) => isFor(test, model) && (!point || test.point === point));
}

/**
 * @param {Plant} plant
 * @param {string} code
 */
export function cautionOf(plant, code) {
  return plant.cautions.find((caution) => caution.code === code);
}

const NOWHERE = ["external", "unknown"]; // origins that are no place where somebody stands

/**
 * The places where somebody can stand and find something.
 * @param {Plant} plant
 */
export function placesOf(plant) {
  return plant.stations.filter((station) => !NOWHERE.includes(station.kind));
}

/**
 * The code by which the plant says that an origin is not known, "" where it has none.
 * @param {Plant} plant
 */
export function unknownOrigin(plant) {
  return plant.stations.find((station) => station.kind === "unknown")?.id ?? "";
}

/** @type {Record<string, string>} */
const KIND_OF_PLACE = { inspector: "inspection", quality_manager: "inspection", tester: "test", repairer: "rework", dispatch: "dispatch" };

/**
 * Where this person finds things when no inspection says it: their own station, else the place of their work, the one
 * they were at last first; "" where the plant has none.
 * @param {Plant} plant
 * @param {Person} person
 * @param {string[]} last  points of this person's inspections, oldest first
 */
export function ownPoint(plant, person, last) {
  const places = placesOf(plant);
  const theirs = places.filter((place) => person.stations.includes(place.id));
  const usual = theirs.length ? theirs : places.filter((place) => place.kind === KIND_OF_PLACE[person.role]);
  return (usual.findLast((place) => place.id === last.at(-1)) ?? usual[0])?.id ?? "";
}

/** @param {Plant} plant */
export function detectionPoints(plant) {
  return plant.stations.filter((station) => station.can_detect);
}

/**
 * Where a defect of this type, found at this point, can have come from: upstream only, the usual ones first.
 * @param {Plant} plant
 * @param {string} point
 * @param {string} model
 * @param {string} typeCode
 * @returns {Station[]}
 */
export function originsOf(plant, point, model, typeCode) {
  const usual = typeOf(plant, typeCode)?.origins ?? [];
  const rank = (/** @type {string} */ id) => (usual.includes(id) ? usual.indexOf(id) : usual.length);
  const possible = (plant.origins[point]?.[model] ?? []).filter((id) => id !== unknownOrigin(plant));
  return possible
    .map((id, place) => ({ id, place }))
    .sort((a, b) => rank(a.id) - rank(b.id) || a.place - b.place)
    .map(({ id }) => plant.stations.find((station) => station.id === id) ?? { id, name: "", kind: "external", can_detect: false });
}

/**
 * The unit's limits of a test in words, "13.4 to 14.6 V", "at most 10 mbar", "passed or failed".
 * @param {Test} test
 */
export function limitWords(test) {
  if (test.kind === "pass") return "passed or failed";
  if (test.lower !== null && test.upper !== null) return `${test.lower} to ${test.upper} ${test.unit}`;
  return test.lower !== null ? `at least ${test.lower} ${test.unit}` : `at most ${test.upper} ${test.unit}`;
}

/**
 * Whether a value keeps the limits; limits themselves are inside.
 * @param {Test} test
 * @param {number} value
 */
export function isWithin(test, value) {
  return (test.lower === null || value >= test.lower) && (test.upper === null || value <= test.upper);
}
