import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { stationsPassed } from "../../pwa/lib/line.js";
import { detectionPoints, ownPoint, placesOf, unknownOrigin } from "../../pwa/lib/plant.js";

import { asksPassphrase, has, roleWords, rolesOf } from "../../pwa/lib/roles.js";
import { isHeldCritical, severitiesFor, twinsFor } from "../../pwa/lib/rules.js";
import { STILL_MS, tapGuard } from "../../pwa/lib/second-tap.js";
import { refusedOf } from "../../pwa/lib/state.js";

const plant = JSON.parse(readFileSync(/** @type {string} */ (process.env.DAYBAY_PLANT), "utf8"));
const box = (left, top) => ({ left, top, right: left + 60, bottom: top + 60 });
const here = (boxes) => () => new Map(Object.entries(boxes));

const NOW = Date.parse("2026-03-02T08:00:00Z");

test("a second tap reaches only what lay under the finger before", () => {
  const admits = tapGuard();
  const tap = (at, what, x = 100) => ({ at, x, y: 100, what });
  const before = { save: box(70, 70), drop: box(110, 70) };
  assert.ok(admits(tap(0, "save"), here(before)));
  for (const at of [100, 300, 900]) assert.ok(!admits(tap(at, "looked"), here({ looked: box(70, 70) })), `${at} ms`);
  assert.ok(!admits(tap(920, "drop"), here({ drop: box(80, 70) })), "what moved under it");
  assert.ok(!admits(tap(930, "drop"), here(before)), "what lay beside it, not under it");
  assert.ok(admits(tap(940, "save"), here({ save: box(90, 60) })), "the same thing again, wherever it lies");
  assert.ok(admits(tap(950, "drop", 120), here({ drop: box(110, 70) })) === false, "what was not there then");
  assert.ok(admits(tap(1000, "looked", 200), here({ looked: box(170, 70) })), "another place");
  assert.ok(admits(tap(1000 + STILL_MS, "next", 200), here({ next: box(170, 70) })), "a finger that was still");
});

test("the next key of a keypad is reached as fast as anybody types", () => {
  const admits = tapGuard();
  const keys = { one: box(40, 70), two: box(100, 70) };
  assert.ok(admits({ at: 0, x: 90, y: 100, what: "one" }, here(keys)));
  assert.ok(admits({ at: 90, x: 130, y: 100, what: "two" }, here(keys)));
});

test("a station past its last day is offered for nothing new, one before its first day neither", () => {
  const stations = plant.stations.map((station) => ({ ...station, first_day: null, end_day: null }));
  const [one, other] = stations.filter((station) => station.kind === "inspection" || station.kind === "test");
  const ending = { ...plant, time_zone: "Europe/London", stations };
  Object.assign(one, { end_day: "2026-03-03" });
  Object.assign(other, { first_day: "2026-03-03" });
  const offered = (/** @type {string} */ instant) => {
    const now = Date.parse(instant);
    const ids = (/** @type {any[]} */ some) => some.map((each) => each.id);
    return [placesOf(ending, now), detectionPoints(ending, now), stationsPassed(ending, [], now)].map(ids);
  };

  for (const ids of offered("2026-03-02T23:59:00Z")) assert.ok(ids.includes(one.id) && !ids.includes(other.id));
  for (const ids of offered("2026-03-03T00:00:00Z")) assert.ok(!ids.includes(one.id) && ids.includes(other.id));
});

test("a finding without an inspection stands at the finder's own place", () => {
  const person = (role, stations = []) => ({ code: "X", name: "X", role, stations });
  const kind = (id) => plant.stations.find((station) => station.id === id)?.kind;
  assert.equal(kind(ownPoint(plant, person("tester"), [], NOW)), "test");
  assert.equal(kind(ownPoint(plant, person("repairer"), [], NOW)), "rework");
  assert.equal(kind(ownPoint(plant, person("inspector"), [], NOW)), "inspection");
  const booths = plant.stations.filter((station) => station.kind === "test").map((station) => station.id);
  assert.equal(ownPoint(plant, person("tester"), [booths[1]], NOW), booths[1], "where they were last");
  const own = placesOf(plant, NOW)[3].id;
  assert.equal(ownPoint(plant, person("station_lead", [own]), [], NOW), own);
  assert.equal(ownPoint(plant, person("station_lead"), [], NOW), "", "nobody guesses");
  assert.equal(plant.stations.find((station) => station.id === unknownOrigin(plant)).kind, "unknown");
});

test("a critical is lowered and withdrawn by the manager only, and reached only as a critical", () => {
  const critical = plant.types.find((type) => type.severity === "critical").code;
  const minor = plant.types.find((type) => type.severity === "minor").code;
  assert.deepEqual(severitiesFor(plant, critical, null, { role: "inspector" }, false), ["critical"]);
  assert.deepEqual(severitiesFor(plant, critical, "minor", { role: "inspector" }, true), ["critical"]);
  assert.deepEqual(severitiesFor(plant, minor, "critical", { role: "inspector" }, false), ["critical"]);
  assert.equal(severitiesFor(plant, critical, "critical", { role: "quality_manager" }, false).length, 3);
  assert.equal(severitiesFor(plant, minor, null, { role: "inspector" }, false).length, 3);
  const defect = (id, severity) => ({ id, severity, state: "open", found_ms: 0 });
  const unit = { defects: [defect("a", "critical"), defect("b", "minor"), defect("c", "critical")] };
  assert.deepEqual(
    twinsFor(unit, unit.defects[0], { role: "inspector" }).map((each) => each.id),
    ["c"],
  );
  assert.equal(twinsFor(unit, unit.defects[0], { role: "quality_manager" }).length, 2);
  assert.ok(
    isHeldCritical(unit.defects[0], { role: "inspector" }) && !isHeldCritical(unit.defects[1], { role: "inspector" }),
  );
});

test("a further role counts as the first does, and one of before has none", () => {
  const both = { code: "X1", name: "X", role: "inspector", also: ["quality_manager"], stations: [] };
  const before = { role: "inspector" }; // as a server of before told a person
  assert.ok(has(both, "tester", "quality_manager") && !has(before, "quality_manager") && !has(null, "inspector"));
  assert.deepEqual(
    [rolesOf(both), rolesOf(before), rolesOf(null)],
    [["inspector", "quality_manager"], ["inspector"], []],
  );
  assert.ok(asksPassphrase(both) && asksPassphrase({ role: "administrator" }) && !asksPassphrase(before));
  assert.equal(roleWords(both), "inspector and quality manager");
  const critical = { id: "a", severity: "critical", state: "repaired", repaired_by: "X1" };
  assert.ok(isHeldCritical(critical, both), "who repaired it withdraws it not, a manager neither");
  assert.ok(!isHeldCritical({ ...critical, repaired_by: "R1" }, both));
  const kind = (id) => plant.stations.find((station) => station.id === id)?.kind;
  const booth = plant.stations.find((station) => station.kind === "test").id;
  assert.equal(kind(ownPoint(plant, { ...both, also: ["tester"] }, [], NOW)), "inspection", "the final one first");
  assert.equal(ownPoint(plant, { ...both, also: ["tester"] }, [booth], NOW), booth, "where they were last");
});

test("who may author what comes with the plant, for every kind that the phone makes", () => {
  for (const kind of [
    "inspection_begun",
    "defect_recorded",
    "defect_withdrawn",
    "repair_done",
    "recheck_accepted",
    "unit_released",
    "photo_attached",
  ]) {
    assert.ok(plant.roles[kind].length, kind);
  }
  assert.ok(!plant.roles.inspection_begun.includes("dispatch"));
  assert.deepEqual(plant.purposes, ["presentation", "relook", "containment", "zones"]);
});

test("a refusal stands until a person or a later record of the same thing settles it", () => {
  const entry = (seq, kind, body) => ({ seq, id: `${seq}`, kind, unit: "U", op: { body } });
  const refused = (seq, more = {}) => [seq, { seq, verdict: "refused", ...more }];
  const first = entry(1, "defect_corrected", { defect: "d" });
  const told = (entries, ...verdicts) =>
    refusedOf({ entries, verdicts: new Map(verdicts) }).map((each) => each.entry.seq);
  assert.deepEqual(told([first], refused(1)), [1]);
  assert.deepEqual(told([first], refused(1, { settled: "read" })), []);
  assert.deepEqual(told([first, entry(2, "defect_corrected", { defect: "d" })], refused(1)), []);
  assert.deepEqual(told([first, entry(2, "defect_corrected", { defect: "d" })], refused(1), refused(2)), [2]);
  assert.deepEqual(told([first, entry(2, "defect_corrected", { defect: "e" })], refused(1)), [1]);
  assert.deepEqual(
    told([entry(1, "defect_recorded", { type: "t" }), entry(2, "defect_recorded", { type: "t" })], refused(1)),
    [1],
  );
});
