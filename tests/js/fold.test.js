import assert from "node:assert/strict";
import test from "node:test";

import { inHandBy, inspectionInHand, lookOf, openList, overlay, possibleTwins } from "../../pwa/lib/fold.js";

/** @returns {any} */
function unit() {
  return {
    chassis: "U",
    shop_number: "S",
    sequence: 1,
    model: "T36",
    options: [],
    state: "at_end_points",
    alarm: "",
    last_number: 5,
    inspections: [
      {
        id: "i2",
        point: "D01",
        purpose: "presentation",
        presentation: 1,
        inspector: "I2",
        light: "wet",
        weather: null,
        begun_ms: 1,
        ended_ms: null,
        looked: ["roof"],
        not_looked: [],
      },
    ],
    defects: [
      {
        id: "d0",
        inspection: "i2",
        point: "D01",
        zone: "a",
        type: "EXT-01",
        severity: "minor",
        note: "",
        mark: null,
        found_ms: 2,
        finder: "I2",
        state: "open",
        cycles: 0,
        suspected: null,
        confirmed: null,
        origin_state: "none",
        photos: [],
        repaired_by: null,
        changed_also_by: [],
        number: 4,
      },
    ],
    tests: [],
    blockers: [],
    release: null,
    open_digest: "",
  };
}

let seq = 0;
/** @returns {any} */
function own(kind, body, more = {}) {
  seq += 1;
  return { op: { id: `o${seq}`, kind, body, author: "I1", wall_ms: 10 + seq, ...more }, local: "saved" };
}

test("what this phone recorded shows at once, and the server's view is not changed by it", () => {
  const view = unit();
  const begun = own("inspection_begun", { point: "D01", purpose: "presentation", light: "bright" }, { id: "i1" });
  const found = own(
    "defect_recorded",
    { inspection: "i1", point: "D01", zone: "b", type: "GAS-03", severity: "critical" },
    { id: "d1" },
  );

  const shown = overlay(view, [begun, found]);

  assert.deepEqual(
    openList(shown).map((defect) => [defect.id, defect.local]),
    [
      ["d1", "saved"],
      ["d0", undefined],
    ],
  );
  assert.equal(inspectionInHand(shown, "I1")?.id, "i1");
  assert.deepEqual(inHandBy(shown), ["I2", "I1"]);
  assert.equal(view.defects.length, 1);
});

test("a defect goes through repair, failed re-check, repair and acceptance with its cycles counted", () => {
  const steps = [
    own("repair_done", { defects: ["d0"], method: "rework", minutes: 5 }, { author: "RW1" }),
    own("recheck_failed", { defect: "d0", reason: "still loose" }),
    own("repair_done", { defects: ["d0"], method: "rework", minutes: 5 }, { author: "RW1" }),
    own("recheck_accepted", { defect: "d0" }),
  ];
  const states = steps.map((_, place) => {
    const [defect] = overlay(unit(), steps.slice(0, place + 1)).defects;
    return [defect.state, defect.repaired_by, defect.cycles];
  });

  assert.deepEqual(states, [
    ["repaired", "RW1", 0],
    ["open", null, 1],
    ["repaired", "RW1", 1],
    ["closed", "RW1", 1],
  ]);
});

test("withdrawn and closed defects leave the open list; a correction shows its new values", () => {
  const shown = overlay(unit(), [
    own("defect_corrected", { defect: "d0", changes: { severity: "major" }, reason: "why" }),
  ]);

  assert.equal(openList(shown)[0].severity, "major");
  assert.deepEqual(
    openList(overlay(shown, [own("defect_withdrawn", { defect: "d0", why: "not_a_defect", reason: "why" })])),
    [],
  );
});

test("a zone's last word counts, and another's look on the same round counts as theirs", () => {
  const steps = [
    own("inspection_begun", { point: "D01", purpose: "presentation", light: "bright" }, { id: "i1" }),
    own("zone_looked_at", { inspection: "i1", zones: ["a", "b"] }),
    own("zone_not_looked_at", { inspection: "i1", zone: "b", reason: "dark" }),
  ];
  const shown = overlay(unit(), steps);
  const mine = /** @type {any} */ (inspectionInHand(shown, "I1"));

  assert.deepEqual(lookOf(shown, mine, "a"), { state: "looked", by: "I1", reason: "" });
  assert.deepEqual(lookOf(shown, mine, "b"), { state: "not", by: "I1", reason: "dark" });
  assert.deepEqual(lookOf(shown, mine, "roof"), { state: "looked", by: "I2", reason: "" });
  assert.equal(lookOf(shown, mine, "c").state, "none");
});

test("a test result replaces the earlier one; a suspected origin and a photo show", () => {
  const shown = overlay(unit(), [
    own("test_recorded", { test: "G1", instrument: "M", value: 12, passed: false }),
    own("test_recorded", { test: "G1", instrument: "M", value: 2, passed: true }),
    own("origin_suspected", { defect: "d0", station: "S10" }),
    own("photo_attached", { defect: "d0", sha256: "aa", bytes: 1 }),
  ]);

  assert.deepEqual(
    shown.tests.map((each) => [each.test, each.value, each.passed]),
    [["G1", 2, true]],
  );
  assert.deepEqual([shown.defects[0].suspected, shown.defects[0].photos], ["S10", ["aa"]]);
});

test("twins: the same type here, or next door by somebody else; never another type or oneself", () => {
  const zones = /** @type {Record<string, any>} */ ({
    a: { view: "front", walk_order: 1 },
    b: { view: "front", walk_order: 2 },
    c: { view: "front", walk_order: 5 },
    d: { view: "rear", walk_order: 1 },
  });
  const twins = (/** @type {any} */ draft, me = "I1") =>
    possibleTwins(unit(), { id: "n", type: "EXT-01", ...draft }, me, (key) => zones[key]).map((each) => each.id);

  assert.deepEqual(twins({ zone: "a" }), ["d0"]);
  assert.deepEqual(twins({ zone: "b" }), ["d0"]);
  assert.deepEqual(twins({ zone: "b" }, "I2"), []);
  assert.deepEqual(twins({ zone: "c" }), []);
  assert.deepEqual(twins({ zone: "d" }), []);
  assert.deepEqual(twins({ zone: "a", type: "EXT-02" }), []);
});
