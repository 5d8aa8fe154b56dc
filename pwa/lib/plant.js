/**
 * Look-ups in the plant that the server sent: views, zones in walk order, types, tests, where a defect can come from.
 */

import { dayOf } from "./clock.js";
import { number, t } from "./language.js";
import { rolesOf } from "./roles.js";

/** @import {Person, Plant, Station, Test, Type, UnitView, View, Zone} from "./shapes" */

/** @typedef {Pick<UnitView, "model" | "options" | "line">} Built  a unit as it is planned */

/**
 * Whether it is offered for new work on a model: what is ended is still named in what is past.
 * @template {{models: string[], ended?: boolean}} T
 * @param {T} thing
 * @param {string} model
 */
function isFor(thing, model) {
  return !thing.ended && (!thing.models.length || thing.models.includes(model));
}

/**
 * Whether it is asked of a unit with these options: of every one where it names none.
 * @param {{options?: string[]}} thing
 * @param {string[]} options
 */
function isAsked(thing, options) {
  return !thing.options?.length || thing.options.some((each) => options.includes(each));
}

/**
 * The line of a unit: as told, else the first that builds its model; "" where the plant, or an older server, names none.
 * @param {Plant} plant
 * @param {Built} unit
 */
export function lineOf(plant, { model, line = "" }) {
  const lines = plant.models.find((each) => each.code === model)?.lines ?? [];
  return lines.includes(line) ? line : (lines[0] ?? "");
}

/**
 * Whether a unit comes by a place: not by what stands on another line than its own.
 * @param {Plant} plant
 * @param {Built} unit
 * @param {string} place
 */
export function comesBy(plant, unit, place) {
  const line = plant.stations.find((each) => each.id === place)?.line;
  return !line || line === lineOf(plant, unit);
}

/**
 * The name of the line that a unit is built on; "" where the plant has one alone.
 * @param {Plant | null | undefined} plant
 * @param {Built} unit
 */
export function lineName(plant, unit) {
  const lines = plant?.lines ?? [];
  if (!plant || lines.length < 2) return "";
  const code = lineOf(plant, unit);
  return lines.find((each) => each.code === code)?.name ?? code;
}

/**
 * The names of a unit's options, the code of one that the plant does not name.
 * @param {Plant | null | undefined} plant
 * @param {Built} unit
 */
export function optionNames(plant, { options }) {
  return options.map((code) => plant?.options?.find((each) => each.code === code)?.name ?? code).join(", ");
}

/**
 * A unit's zones in walk order, those that are ended and those of options that it has not left out.
 * @param {Plant} plant
 * @param {Built} unit
 * @param {string} [view]
 */
export function zonesOf(plant, { model, options }, view) {
  return plant.zones
    .filter((zone) => zone.model === model && !zone.ended && (!view || zone.view === view) && isAsked(zone, options))
    .sort((a, b) => a.walk_order - b.walk_order || a.layer - b.layer || (a.key < b.key ? -1 : 1));
}

/**
 * What a model looks like in a view; nothing where the plant, or an older server, does not say.
 * @param {Plant} plant
 * @param {string} model
 * @param {string} view
 */
export function outlinesOf(plant, model, view) {
  return (plant.outlines ?? []).filter((each) => each.model === model && each.view === view);
}

/**
 * The picture under a view's zones, where the plant, or an older server, has one.
 * @param {Plant} plant
 * @param {string} model
 * @param {string} view
 */
export function pictureOf(plant, model, view) {
  return plant.pictures?.find((each) => each.model === model && each.view === view);
}

/**
 * The views of a unit in the order of the walk.
 * @param {Plant} plant
 * @param {Built} unit
 */
export function viewsOf(plant, unit) {
  const first = (/** @type {View} */ view) => zonesOf(plant, unit, view.id)[0]?.walk_order;
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
 * Where keys, papers and options are recorded: the plant's zone for the whole unit, else the plate where they are
 * matched.
 * @param {Plant} plant
 * @param {Built} unit
 */
export function wholeUnitZone(plant, unit) {
  const zones = zonesOf(plant, unit);
  return zones.find((zone) => zone.holds === "whole") ?? zones.find((zone) => zone.holds === "plate");
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
 * The tests that are asked of a unit; one done though not asked stays with its results.
 * @param {Plant} plant
 * @param {Built} unit
 * @param {string} [point]
 */
export function testsOf(plant, unit, point) {
  return plant.tests.filter(
    (test) =>
      isFor(test, unit.model) &&
      isAsked(test, unit.options) &&
      (!point || test.point === point) &&
      comesBy(plant, unit, test.point),
  );
}

/**
 * A place as people know it: its code and its name, once where the name says the code; what no plant has as its code.
 * @param {Plant | null | undefined} plant
 * @param {string | null | undefined} code
 */
export function placeWords(plant, code) {
  if (code === "FIELD") return t`the dealer’s or the user’s`;
  const known = plant?.stations.find((station) => station.id === code);
  const name = known?.name ?? "";
  if (known?.kind === "unknown") return name;
  const doubled = `${name} `.toLowerCase().startsWith(`${code ?? ""} `.toLowerCase());
  return doubled ? name : `${code ?? ""} ${name}`.trim();
}

/**
 * What a caution is about, in its first words; its code where the tables have it no longer.
 * @param {Plant} plant
 * @param {string} code
 */
export function cautionWords(plant, code) {
  return cautionOf(plant, code)?.short.split(/[.:]/)[0].trim() || code;
}

/**
 * @param {Plant} plant
 * @param {string | null} code
 */
export function cautionOf(plant, code) {
  return plant.cautions.find((caution) => caution.code === code);
}

/**
 * The cautions that a defect carries, its work's and its place's; null is the general one, where the tables do not say.
 * @param {Zone | undefined} zone
 * @param {Type | undefined} type
 */
export function cautionsFor(zone, type) {
  return [...new Set([type?.caution ?? null, zone?.caution ?? ""])].filter((code) => code !== "");
}

/**
 * The cautions of a place of the app; the general one where an older server does not say which.
 * @param {Plant} plant
 * @param {"begin" | "unit"} place
 * @returns {(string | null)[]}
 */
export function cautionsAt(plant, place) {
  return plant.cautions.every((each) => each.shown)
    ? plant.cautions.filter((each) => each.shown?.includes(place)).map((each) => each.code)
    : [null];
}

/**
 * Whether somebody moves away from the unit before using a phone: unless every caution says that it need not be.
 * @param {Plant} plant
 * @param {(string | null)[]} codes
 */
export function movesAway(plant, codes) {
  return codes.some((code) => cautionOf(plant, code)?.move_away !== false);
}

/**
 * Whether cautions forbid a photo (their code), or what a person confirms before one. What is not said is asked.
 * @param {Plant} plant
 * @param {(string | null)[]} codes
 */
export function photoGuard(plant, codes) {
  const found = codes.map((code) => cautionOf(plant, code));
  return {
    forbids: found.find((each) => each?.camera === "no")?.code ?? "",
    asks: found
      .filter((each) => each?.camera !== "free")
      .map((each) => each?.before_photo || t`I have checked that a camera is safe here`),
  };
}

/**
 * Who is told of a critical finding under these cautions, each with a number or "".
 * @param {Plant} plant
 * @param {(string | null)[]} codes
 */
export function toldOf(plant, codes) {
  const own = { who: plant.stop_who ?? t`the lead`, phone: plant.stop_phone };
  const named = codes.map((code) => cautionOf(plant, code)).filter((each) => each?.call || each?.phone);
  return named.length
    ? named.map((each) => ({ who: each?.call || own.who, phone: each?.phone || (each?.call ? "" : own.phone) }))
    : [own];
}

const NOWHERE = ["external", "unknown"]; // origins that are no place where somebody stands

/**
 * The stations that stand on the day of an instant: one past its last day is offered for nothing new.
 * @param {Plant} plant
 * @param {number} now
 */
export function standingStations(plant, now) {
  const day = dayOf(now, plant.time_zone);
  return plant.stations.filter(({ first_day: first, end_day: end }) => (!first || first <= day) && (!end || day < end));
}

/**
 * The places where somebody can stand now and find something.
 * @param {Plant} plant
 * @param {number} now
 */
export function placesOf(plant, now) {
  return standingStations(plant, now).filter((station) => !NOWHERE.includes(station.kind));
}

/**
 * The code by which the plant says that an origin is not known, "" where it has none.
 * @param {Plant} plant
 */
export function unknownOrigin(plant) {
  return plant.stations.find((station) => station.kind === "unknown")?.id ?? "";
}

/** @type {Record<string, string>} */
const KIND_OF_PLACE = {
  inspector: "inspection",
  quality_manager: "inspection",
  tester: "test",
  repairer: "rework",
  dispatch: "dispatch",
};

/**
 * Where this person finds things when no inspection says it: their own station and the places of their work, the one
 * they were at last first; "" where the plant has none.
 * @param {Plant} plant
 * @param {Person} person
 * @param {string[]} last  points of this person's inspections, oldest first
 * @param {number} now
 */
export function ownPoint(plant, person, last, now) {
  const places = placesOf(plant, now);
  const theirs = places.filter((place) => person.stations.includes(place.id));
  const ofWork = rolesOf(person).flatMap((role) => places.filter((place) => place.kind === KIND_OF_PLACE[role]));
  const usual = [...new Set([...theirs, ...ofWork])];
  return (
    (usual.findLast((place) => place.id === last.at(-1)) ?? usual.find((place) => place.final) ?? usual[0])?.id ?? ""
  );
}

/**
 * @param {Plant} plant
 * @param {number} now
 */
export function detectionPoints(plant, now) {
  return standingStations(plant, now).filter((station) => station.can_detect);
}

/**
 * Where a defect of this type, found at this point, can have come from: upstream only, the usual ones first.
 * @param {Plant} plant
 * @param {string} point
 * @param {Built} unit
 * @param {string} typeCode
 * @returns {Station[]}
 */
export function originsOf(plant, point, unit, typeCode) {
  const usual = typeOf(plant, typeCode)?.origins ?? [];
  const rank = (/** @type {string} */ id) => (usual.includes(id) ? usual.indexOf(id) : usual.length);
  const possible = (plant.origins[point]?.[unit.model] ?? []).filter(
    (id) => id !== unknownOrigin(plant) && comesBy(plant, unit, id),
  );
  return possible
    .map((id, place) => ({ id, place }))
    .sort((a, b) => rank(a.id) - rank(b.id) || a.place - b.place)
    .map(
      ({ id }) =>
        plant.stations.find((station) => station.id === id) ?? { id, name: "", kind: "external", can_detect: false },
    );
}

/**
 * The unit's limits of a test in words, "13.4 to 14.6 V", "at most 10 mbar", "passed or failed".
 * @param {Test} test
 */
export function limitWords(test) {
  if (test.kind === "pass") return t`passed or failed`;
  if (test.lower !== null && test.upper !== null) return t`${number(test.lower)} to ${number(test.upper)} ${test.unit}`;
  return test.lower !== null
    ? t`at least ${number(test.lower)} ${test.unit}`
    : t`at most ${number(/** @type {number} */ (test.upper))} ${test.unit}`;
}

/**
 * Whether a value keeps the limits; limits themselves are inside.
 * @param {Test} test
 * @param {number} value
 */
export function isWithin(test, value) {
  return (test.lower === null || value >= test.lower) && (test.upper === null || value <= test.upper);
}
