import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { dueAt, lastPassed, passingAt, stationsPassed } from "../../pwa/lib/line.js";

const PLANT = JSON.parse(readFileSync(process.env.DAYBAY_PLANT ?? "", "utf8"));

/** @param {number} sequence @param {string[]} stations @param {object} [more] @returns {any} */
function unit(sequence, stations, more = {}) {
  const passings = stations.map((station, at) => ({
    id: `${sequence}${at}`,
    station,
    passed_ms: at,
    withdrawn: false,
  }));
  const state = stations.length ? "on_line" : "planned";
  return { chassis: `U${sequence}`, sequence, model: "T36", state, inspections: [], passings, ...more };
}

/** @param {any[]} units @param {string} station */
const due = (units, station) => dueAt(units, station, PLANT).map((each) => each.sequence);

test("those on the line come first, each in the order of the line", () => {
  assert.deepEqual(due([unit(3, []), unit(2, []), unit(9, ["S01"]), unit(8, ["S06"])], "S07"), [8, 9, 2, 3]);
});

test("who passed here, or further on, or was looked at further on, is not due", () => {
  const looked = { inspections: [{ point: "T01" }] };
  assert.deepEqual(due([unit(1, ["S07"]), unit(2, ["S08"]), unit(3, ["S06"], looked), unit(4, ["S06"])], "S07"), [4]);
});

test("a passing that was taken back leaves the unit due, and the earliest that stands counts", () => {
  const one = unit(1, ["S07", "S07", "S06"]);
  one.passings[0].withdrawn = true;
  assert.equal(passingAt(one, "S07")?.id, "11");
  assert.equal(lastPassed(one)?.station, "S06");
  one.passings[1].withdrawn = true;
  assert.deepEqual(due([one], "S07"), [1]);
});

test("released and cancelled units are due nowhere, nor any from a server that tells no passings", () => {
  assert.deepEqual(due([unit(1, [], { state: "released" }), unit(2, [], { state: "cancelled" })], "S07"), []);
  assert.deepEqual(due([unit(3, [], { passings: undefined })], "S07"), [3]);
});

test("the last place of the line has units due too, and a place that is none is not offered", () => {
  assert.deepEqual(due([unit(1, ["S12"])], "X01"), [1]);
  const offered = stationsPassed(PLANT, ["S07"], 0).map((each) => each.id);
  assert.equal(offered[0], "S07");
  assert.ok(!offered.includes("SUP") && !offered.includes("UNK") && !offered.includes("R01"));
  assert.equal(new Set(offered).size, offered.length);
});
