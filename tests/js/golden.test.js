/** The app's fold over the server's view, held to the histories that the server's own fold is held to. */

import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import test from "node:test";

import { overlay } from "../../pwa/lib/fold.js";

const RECORDS = new URL("../golden/", import.meta.url);
/** @type {Record<string, string>} */
const KEYS = { inspections: "id", defects: "id", tests: "test", results: "id", passings: "id" };
/** What only the server tells: its numbers, the order of presentations, whose words were replaced, which tests a repair
 * voids, which failures are hazards. */
const SERVERS = new Set(["number", "presentation", "changed_also_by", "voided", "untold", "local"]);
/** Kinds that no phone records, or that change nothing of what a phone folds. */
const ELSEWHERE = new Set([
  "unit_planned",
  "unit_met",
  "plan_changed",
  "unit_cancelled",
  "unit_taken_up",
  "field_finding",
  "unit_released",
  "origin_confirmed",
  "origin_passed_on",
  "origin_disputed",
  "origin_settled",
]);

/** @param {any} value */
function told(value) {
  return JSON.parse(JSON.stringify(value, (key, part) => (SERVERS.has(key) ? undefined : part)));
}

/** @param {any} view @param {any} then */
function merged(view, then) {
  const after = { ...view, ...then };
  for (const [name, key] of Object.entries(KEYS)) {
    const entries = [...(view[name] ?? []), ...(then[name] ?? [])];
    after[name] = [...new Map(entries.map((each) => [each[key], each])).values()];
  }
  after.tests = after.tests.filter((/** @type {any} */ each) => !then.gone?.includes(each.test));
  return after;
}

/** Entries by their key: a repeated test goes to the end of the app's list and keeps its place in the server's.
 * @param {any} view @param {string} name */
function entries(view, name) {
  const shown = told(view[name] ?? []).map((/** @type {any} */ each) =>
    name === "tests" ? { test: each.test, passed: each.passed, value: each.value } : each,
  );
  return Object.fromEntries(shown.map((/** @type {any} */ each) => [each[KEYS[name]], each]));
}

let compared = 0;
for (const file of readdirSync(RECORDS).filter((name) => name.endsWith(".json"))) {
  const { history, operations } = JSON.parse(readFileSync(new URL(file, RECORDS), "utf8"));
  test(`the app and the server tell alike: ${history}`, () => {
    /** @type {any} */
    let view = {};
    for (const each of operations.filter((/** @type {any} */ one) => one.then)) {
      const after = merged(view, each.then);
      if (!ELSEWHERE.has(each.kind)) {
        const op = { id: each.id, kind: each.kind, author: each.by, wall_ms: each.happened_ms, body: each.body };
        const shown = overlay(view, [/** @type {any} */ ({ op, local: "saved" })]);
        const isFolded = each.then.place !== undefined || each.kind !== "unit_moved";
        if (isFolded)
          assert.notDeepEqual(told(shown), told({ ...view, counts: undefined }), `not folded: ${each.kind}`);
        assert.deepEqual(shown.place, after.place, `${each.kind} ${each.id}: place`);
        for (const name of Object.keys(KEYS)) {
          assert.deepEqual(entries(shown, name), entries(after, name), `${each.kind} ${each.id}: ${name}`);
        }
        compared += 1;
      }
      view = after;
    }
  });
}

test("the histories hold what is compared", () => assert.ok(compared > 100, `${compared}`));
