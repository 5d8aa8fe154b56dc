/** A unit as this phone may show it: the server's own fold of it, and over that what the server has not seen yet. */

/** @import {Defect, Inspection, Local, Look, Operation, Own, Plant, Result, UnitView} from "./shapes" */

/** @typedef {(unit: UnitView, op: Operation, local: Local, plant: Plant | null) => void} Step */

/**
 * @param {UnitView} view
 * @param {Own[]} own  this phone's operations that the view does not hold yet, in order
 * @param {Plant | null} [plant]  whose tables say which failures are hazards
 * @returns {UnitView}
 */
export function overlay(view, own, plant = null) {
  if (!own.length) return view;
  /** @type {UnitView} */
  const unit = structuredClone(view);
  for (const { op, local } of own) STEPS[op.kind]?.(unit, op, local, plant);
  return unit;
}

/** @param {Defect} defect */
function isStanding({ state }) {
  return state === "open" || state === "repaired";
}

/**
 * A step that changes one defect; what changes(defect, op) leaves undefined stands as it is.
 * @param {(defect: Defect, op: Operation) => Partial<Defect> | undefined} changes
 * @param {boolean} [marks]  whether the list shows it as this phone's own
 * @returns {Step}
 */
const onDefect =
  (changes, marks = true) =>
  (unit, op, local) => {
    for (const id of op.body.defects ?? [op.body.defect]) {
      const defect = unit.defects.find((each) => each.id === id);
      const changed = defect && changes(defect, op);
      if (changed) Object.assign(defect, changed, marks && { local: defect.local ?? local });
    }
  };

/**
 * @param {(inspection: Inspection, op: Operation) => Partial<Inspection>} changes
 * @returns {Step}
 */
const onInspection = (changes) => (unit, op) => {
  const inspection = unit.inspections.find((each) => each.id === op.body.inspection);
  if (inspection) Object.assign(inspection, changes(inspection, op));
};

/** What each kind that a phone makes does to a unit. The server's own steps and these answer to the same records.
 * @type {Record<string, Step>} */
const STEPS = {
  station_passed(unit, { id, author, wall_ms, body: { station } }, local) {
    const passing = { id, station, by: author, passed_ms: wall_ms, withdrawn: false, local };
    unit.passings = [...(unit.passings ?? []), passing];
  },
  unit_moved(unit, { author, wall_ms, body }) {
    if ((unit.place?.moved_ms ?? 0) <= wall_ms) {
      unit.place = { place: body.place.trim(), by: author, moved_ms: wall_ms };
    }
  },
  passing_withdrawn(unit, { body }) {
    const passing = unit.passings?.find((each) => each.id === body.passing);
    if (passing) passing.withdrawn = true;
  },
  inspection_begun(unit, { id, author, wall_ms, body: { point, purpose, light, weather = null } }, local) {
    unit.inspections.push({
      id,
      point,
      purpose,
      presentation: null,
      inspector: author,
      light,
      weather,
      begun_ms: wall_ms,
      ended_ms: null,
      looked: [],
      not_looked: [],
      local,
    });
  },
  inspection_ended: onInspection((_, op) => ({ ended_ms: op.wall_ms })),
  zone_looked_at: onInspection(({ looked, not_looked }, { body: { zones } }) => ({
    looked: [...new Set([...looked, ...zones])],
    not_looked: not_looked.filter((each) => !zones.includes(each.zone)),
  })),
  zone_not_looked_at: onInspection(({ looked, not_looked }, { body: { zone, reason } }) => ({
    looked: looked.filter((each) => each !== zone),
    not_looked: [...not_looked.filter((each) => each.zone !== zone), { zone, reason }],
  })),
  defect_recorded(unit, { id, author, wall_ms, body }, local, plant) {
    for (const result of unit.results ?? []) {
      const hazard = plant?.tests.find((each) => each.id === result.test)?.type;
      if (result.id === body.result || hazard === body.type) result.untold = false;
    }
    const { inspection = null, point, zone, type, severity, grade, lot, note = "", mark = null } = body;
    unit.defects.push({
      id,
      inspection,
      point,
      zone,
      type,
      severity,
      ...(grade ? { grade } : {}),
      ...(lot ? { lot } : {}),
      note,
      mark,
      found_ms: wall_ms,
      finder: author,
      state: "open",
      cycles: 0,
      said: "",
      suspected: null,
      confirmed: null,
      origin_state: "none",
      photos: [],
      circles: {},
      repaired_by: null,
      changed_also_by: [],
      number: null,
      local,
    });
  },
  defect_corrected: onDefect((_, { body: { changes } }) =>
    changes.severity && !changes.grade ? { ...changes, grade: undefined } : changes,
  ),
  defect_withdrawn: onDefect(() => ({ state: "withdrawn" })),
  photo_attached: onDefect(({ photos, circles = {} }, { body: { sha256, circle } }) => {
    const { [sha256]: before, ...others } = circles;
    const now = circle === undefined ? before : circle;
    return { photos: [...new Set([...photos, sha256])], circles: now ? { ...others, [sha256]: now } : others };
  }, false),
  photo_withdrawn: onDefect(({ photos, circles = {} }, { body: { sha256 } }) => {
    const { [sha256]: _gone, ...others } = circles;
    return { photos: photos.filter((each) => each !== sha256), circles: others };
  }, false),
  origin_suspected: onDefect(({ origin_state, suspected }, { body: { station } }) => {
    if (origin_state === "confirmed" || origin_state === "settled") return { suspected: suspected ?? station };
    return { suspected: station, confirmed: null, origin_state: "suspected" };
  }, false),
  repair_done: onDefect(({ state }, op) =>
    state === "withdrawn" ? undefined : { state: "repaired", repaired_by: op.author, said: op.body.note ?? "" },
  ),
  recheck_accepted: onDefect(({ state }) => (state === "repaired" ? { state: "closed" } : undefined)),
  recheck_failed: onDefect(({ cycles }, op) => ({
    state: "open",
    repaired_by: null,
    cycles: cycles + 1,
    said: op.body.reason ?? "",
  })),
  test_recorded(unit, { id, author, wall_ms, body }, local, plant) {
    const { test, value = null, passed, inspection = null, beyond = "", again = "" } = body;
    const known = plant?.tests.find((each) => each.id === test);
    const told = unit.defects.some((each) => each.type === known?.type && isStanding(each));
    /** @type {Result} */
    const result = {
      id,
      test,
      inspection,
      value,
      beyond,
      passed,
      voided: false,
      again,
      taken_back: false,
      untold: !passed && !!known?.hazard && !told,
      tester: author,
      tested_ms: wall_ms,
      number: null,
      local,
    };
    unit.results = [...(unit.results ?? []), result];
    unit.tests = [...unit.tests.filter((each) => each.test !== test), result];
  },
  test_withdrawn(unit, { body }) {
    const result = unit.results?.find((each) => each.id === body.result);
    if (!result) return;
    result.taken_back = true;
    const standing = unit.results?.findLast((each) => each.test === result.test && !each.taken_back);
    unit.tests = [...unit.tests.filter((each) => each.test !== result.test), ...(standing ? [standing] : [])];
  },
};

/**
 * Defects that still stand: open, or repaired and waiting for the re-check; the gravest and oldest first.
 * @param {UnitView} unit
 */
export function openList(unit) {
  const order = { critical: 0, major: 1, minor: 2 };
  return unit.defects
    .filter(isStanding)
    .sort((a, b) => order[a.severity] - order[b.severity] || a.found_ms - b.found_ms);
}

/**
 * This person's inspection of the unit that is not ended, the latest.
 * @param {UnitView} unit
 * @param {string} person
 */
export function inspectionInHand(unit, person) {
  return unit.inspections.findLast((each) => each.inspector === person && each.ended_ms === null);
}

/**
 * Everybody who has an inspection of the unit open.
 * @param {UnitView} unit
 */
export function inHandBy(unit) {
  return [...new Set(unit.inspections.filter((each) => each.ended_ms === null).map((each) => each.inspector))];
}

/**
 * How a zone stands in an inspection. Looked at by another person who is on the unit now counts as theirs.
 * @param {UnitView} unit
 * @param {Inspection} inspection
 * @param {string} zone
 * @returns {Look}
 */
export function lookOf(unit, inspection, zone) {
  const own = lookIn(inspection, zone);
  if (own.state !== "none") return own;
  const others = unit.inspections.filter(
    (each) => each !== inspection && each.ended_ms === null && each.point === inspection.point,
  );
  return others.map((each) => lookIn(each, zone)).find((look) => look.state === "looked") ?? own;
}

/**
 * @param {Inspection} inspection
 * @param {string} zone
 * @returns {Look}
 */
function lookIn(inspection, zone) {
  if (inspection.looked.includes(zone)) return { state: "looked", by: inspection.inspector, reason: "" };
  const not = inspection.not_looked.find((each) => each.zone === zone);
  return not ? { state: "not", by: inspection.inspector, reason: not.reason } : { state: "none", by: "", reason: "" };
}

/**
 * Defects already on the list that may be the same one: this type in this zone, or, found by somebody else, in one next
 * to it on the walk.
 * @param {UnitView} unit
 * @param {{type: string, zone: string, id: string}} draft
 * @param {string} me
 * @param {(key: string) => {view: string, walk_order: number} | undefined} zoneOf
 */
export function possibleTwins(unit, draft, me, zoneOf) {
  const here = zoneOf(draft.zone);
  return openList(unit).filter((defect) => {
    if (defect.id === draft.id || defect.type !== draft.type) return false;
    if (defect.zone === draft.zone) return true;
    const there = zoneOf(defect.zone);
    const isNext = !!here && !!there && here.view === there.view && Math.abs(here.walk_order - there.walk_order) <= 1;
    return isNext && defect.finder !== me;
  });
}
