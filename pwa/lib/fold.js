/** A unit as this phone may show it: the server's view, and over it what the phone itself has recorded since. */

/** @import {Defect, Inspection, Local, Look, Operation, Own, Plant, Result, UnitView} from "./shapes" */

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
  for (const each of own) EFFECTS[each.op.kind]?.(unit, each.op, each.local, plant);
  return unit;
}

/**
 * @param {UnitView} unit
 * @param {string} id
 */
function defectOf(unit, id) {
  return unit.defects.find((defect) => defect.id === id);
}

/**
 * @param {UnitView} unit
 * @param {string} id
 * @param {Partial<Defect>} changes
 * @param {Local} local
 */
function changeDefect(unit, id, changes, local) {
  const defect = defectOf(unit, id);
  if (defect) Object.assign(defect, changes, { local: defect.local ?? local });
}

/**
 * @param {UnitView} unit
 * @param {string} id
 */
function inspectionOf(unit, id) {
  return unit.inspections.find((inspection) => inspection.id === id);
}

/** @param {Defect} defect */
function isStanding({ state }) {
  return state === "open" || state === "repaired";
}

/** @type {Record<string, (unit: UnitView, op: Operation, local: Local, plant: Plant | null) => void>} */
const EFFECTS = {
  inspection_begun(unit, op, local) {
    const { point, purpose, light, weather } = op.body;
    unit.inspections.push({
      id: op.id, point, purpose, presentation: null, inspector: op.author, light, weather: weather ?? null,
      begun_ms: op.wall_ms, ended_ms: null, looked: [], not_looked: [], local,
    });
  },
  inspection_ended(unit, op) {
    const inspection = inspectionOf(unit, op.body.inspection);
    if (inspection) inspection.ended_ms = op.wall_ms;
  },
  zone_looked_at(unit, op) {
    const inspection = inspectionOf(unit, op.body.inspection);
    if (!inspection) return;
    inspection.looked = [...new Set([...inspection.looked, ...op.body.zones])];
    inspection.not_looked = inspection.not_looked.filter((each) => !op.body.zones.includes(each.zone));
  },
  zone_not_looked_at(unit, op) {
    const inspection = inspectionOf(unit, op.body.inspection);
    if (!inspection) return;
    const { zone, reason } = op.body;
    inspection.looked = inspection.looked.filter((each) => each !== zone);
    inspection.not_looked = [...inspection.not_looked.filter((each) => each.zone !== zone), { zone, reason }];
  },
  defect_recorded(unit, op, local, plant) {
    for (const result of unit.results ?? []) {
      const type = plant?.tests.find((each) => each.id === result.test)?.type;
      if (result.id === op.body.result || type === op.body.type) result.untold = false;
    }
    const { inspection, point, zone, type, severity, note, mark } = op.body;
    unit.defects.push({
      id: op.id, inspection: inspection ?? null, point, zone, type, severity, note: note ?? "", mark: mark ?? null,
      found_ms: op.wall_ms, finder: op.author, state: "open", cycles: 0, suspected: null, confirmed: null,
      origin_state: "none", photos: [], repaired_by: null, changed_also_by: [], number: null, local,
    });
  },
  defect_corrected(unit, op, local) {
    changeDefect(unit, op.body.defect, op.body.changes, local);
  },
  defect_withdrawn(unit, op, local) {
    changeDefect(unit, op.body.defect, { state: "withdrawn" }, local);
  },
  photo_attached(unit, op) {
    const defect = defectOf(unit, op.body.defect);
    if (defect && !defect.photos.includes(op.body.sha256)) defect.photos.push(op.body.sha256);
  },
  photo_withdrawn(unit, op) {
    const defect = defectOf(unit, op.body.defect);
    if (defect) defect.photos = defect.photos.filter((each) => each !== op.body.sha256);
  },
  origin_suspected(unit, op) {
    const defect = defectOf(unit, op.body.defect);
    if (defect) Object.assign(defect, { suspected: op.body.station, origin_state: "suspected" });
  },
  repair_done(unit, op, local) {
    for (const id of op.body.defects) changeDefect(unit, id, { state: "repaired", repaired_by: op.author }, local);
  },
  recheck_accepted(unit, op, local) {
    changeDefect(unit, op.body.defect, { state: "closed" }, local);
  },
  recheck_failed(unit, op, local) {
    const cycles = (defectOf(unit, op.body.defect)?.cycles ?? 0) + 1;
    changeDefect(unit, op.body.defect, { state: "open", repaired_by: null, cycles }, local);
  },
  test_recorded(unit, op, local, plant) {
    const { test, value, passed, inspection, beyond, again } = op.body;
    const known = plant?.tests.find((each) => each.id === test);
    const told = unit.defects.some((each) => each.type === known?.type && isStanding(each));
    /** @type {Result} */
    const result = {
      id: op.id, test, inspection: inspection ?? null, value: value ?? null, beyond: beyond ?? "", passed, voided: false, again: again ?? "",
      taken_back: false, untold: !passed && !!known?.hazard && !told, tester: op.author, tested_ms: op.wall_ms, number: null, local,
    };
    unit.results = [...(unit.results ?? []), result];
    unit.tests = [...unit.tests.filter((each) => each.test !== test), result];
  },
  test_withdrawn(unit, op) {
    const result = unit.results?.find((each) => each.id === op.body.result);
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
  const others = unit.inspections.filter((each) => each !== inspection && each.ended_ms === null && each.point === inspection.point);
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
