import assert from "node:assert/strict";
import test from "node:test";

import { inFront } from "../../pwa/lib/front.js";
import { queuesOf } from "../../pwa/lib/queues.js";

/** @param {Partial<any>} [more] */
const unit = (more) =>
  /** @type {any} */ ({
    chassis: "c",
    sequence: 1,
    state: "at_end_points",
    alarm: "",
    inspections: [],
    defects: [],
    blockers: [],
    ...more,
  });
/** @param {Partial<any>} [more] */
const defect = (more) => ({
  id: "d",
  severity: "minor",
  state: "open",
  cycles: 0,
  found_ms: 1,
  repaired_by: null,
  suspected: null,
  origin_state: "none",
  ...more,
});
/** @param {string} role */
const person = (role) => ({ code: "X1", name: "", role, stations: role === "station_lead" ? ["S07"] : [] });

const UNITS = [
  unit({ chassis: "clean" }),
  unit({ chassis: "unlooked", blockers: [{ code: "zone", what: "", ref: "front.gas" }] }),
  unit({ chassis: "untested", blockers: [{ code: "test", what: "", ref: "G1" }] }),
  unit({
    chassis: "open",
    state: "in_rework",
    defects: [defect()],
    blockers: [{ code: "defect", what: "", ref: "d" }],
  }),
  unit({
    chassis: "failed",
    state: "in_rework",
    defects: [defect({ cycles: 1 })],
    blockers: [{ code: "defect", what: "", ref: "d" }],
  }),
  unit({
    chassis: "mended",
    defects: [defect({ state: "repaired", repaired_by: "R1" })],
    blockers: [{ code: "recheck", what: "", ref: "d" }],
  }),
  unit({ chassis: "mine", inspections: [{ inspector: "X1", ended_ms: null }] }),
  unit({
    chassis: "guess",
    defects: [defect({ suspected: "S07", origin_state: "suspected" })],
    blockers: [{ code: "defect", what: "", ref: "d" }],
  }),
];

/** @param {string} role */
const order = (role) =>
  queuesOf(UNITS, person(role)).map(({ title, units }) => [title, units.map((each) => each.chassis)]);

test("each role finds its own work first, and every unit once", () => {
  assert.deepEqual(order("inspector").slice(0, 4), [
    ["In your hands", ["mine"]],
    ["Look at again", ["mended"]],
    ["To inspect", ["unlooked"]],
    ["Nothing blocks: for a signature", ["clean"]],
  ]);
  assert.deepEqual(order("repairer").slice(0, 3), [
    ["In your hands", ["mine"]],
    ["Repair again", ["failed"]],
    ["To repair", ["guess", "open"]],
  ]);
  assert.deepEqual(order("tester")[1], ["To test next", ["untested"]]);
  assert.deepEqual(order("station_lead")[0], ["Waits for your word", ["guess"]]);
  assert.deepEqual(
    order("dispatch").map(([title]) => title),
    ["Nothing blocks: for a signature", "May not leave yet"],
  );
  for (const role of ["inspector", "repairer", "tester", "station_lead", "dispatch", "planner"]) {
    assert.equal(order(role).flatMap(([, units]) => units).length, UNITS.length, role);
  }
});

test("with several roles the work of each stands once, in an order that is each one's own", () => {
  const both = (/** @type {string} */ role, /** @type {string[]} */ ...also) =>
    queuesOf(UNITS, { ...person(role), also, stations: ["S07"] }).map(({ title, units }) => [
      title,
      units.map((each) => each.chassis),
    ]);
  const made = both("tester", "repairer", "station_lead");

  assert.deepEqual(made.slice(0, 5), [
    ["In your hands", ["mine"]],
    ["Repair again", ["failed"]],
    ["Waits for your word", ["guess"]],
    ["To test next", ["untested"]],
    ["Look at again", ["mended"]],
  ]);
  assert.deepEqual(both("repairer", "tester", "station_lead"), made, "whichever comes first");
  const every = both("inspector", "tester", "repairer", "station_lead", "quality_manager", "dispatch", "planner");
  assert.equal(both("planner", "dispatch").at(-1)?.[0], "May not leave yet");
  for (const queues of [made, every]) {
    const shown = queues.flatMap(([, units]) => units);
    assert.deepEqual([...shown].sort(), UNITS.map((each) => each.chassis).sort());
    assert.equal(new Set(queues.map(([title]) => title)).size, queues.length);
  }
});

test("who repaired it is not asked to look again, and an alarm comes before everything", () => {
  const own = unit({ chassis: "own", defects: [defect({ state: "repaired", repaired_by: "X1" })] });
  const alarm = unit({ chassis: "alarm", alarm: "found after release" });

  assert.deepEqual(
    queuesOf([own, alarm], person("inspector")).map(({ title, units }) => [title, units[0].chassis]),
    [
      ["Alarm", "alarm"],
      ["Others in work", "own"],
    ],
  );
});

test("a view's time in front of a person adds up over visits and stands still elsewhere", () => {
  const front = { ms: new Map(), key: "", at: 0 };
  inFront(front, "look front", 1000);
  inFront(front, "look front", 3000); // drawn again
  inFront(front, "", 5000); // in a pocket
  inFront(front, "look front", 60_000);
  inFront(front, "look rear", 61_500);

  assert.equal(front.ms.get("look front"), 5500);
});
