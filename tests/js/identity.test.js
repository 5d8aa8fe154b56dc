import assert from "node:assert/strict";
import { uuid7, uuid7From } from "../../pwa/lib/facts.js";
import test from "node:test";

import { checks } from "../../pwa/lib/check-signs.js";
import { endingWith, labelRead, lengthOf, nearest, numbersOf, readTyped, slips } from "../../pwa/lib/chassis.js";

const SHAPE = /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;
const UNITS = [
  { chassis: "0PC7T3600TW030001", shop_number: "PC7130001" },
  { chassis: "0PC7M5000TW030002", shop_number: "PC7230002" },
  { chassis: "0PC7T3600TW030014", shop_number: "PC7130014" },
];

test("the example of RFC 9562, appendix A.6, comes out", () => {
  // Values from memory of the RFC: time 017F22E279B0, rand_a CC3, rand_b 18C4DC0C0C07398F.
  const random = Uint8Array.from(["0C", "C3", "18", "C4", "DC", "0C", "0C", "07", "39", "8F"], (hex) =>
    parseInt(hex, 16),
  );

  assert.equal(uuid7From(0x017f22e279b0, random), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
});

test("identities rise even when the clock stands still or steps back", () => {
  const made = [uuid7(1_000_000), uuid7(1_000_000), uuid7(999_000), uuid7(1_000_001)];

  assert.deepEqual([...made].sort(), made);
  assert.ok(made.every((id) => SHAPE.test(id)));
});

test("I, O and Q are read as the figures they resemble, and told (ISO 3779, from memory)", () => {
  assert.deepEqual(readTyped(" pc7-13oo0i "), { text: "PC7130001", changed: ["O", "I"] });
  assert.deepEqual(readTyped("0Q1"), { text: "001", changed: ["Q"] });
});

test("the last characters find a unit by its full or its shop number", () => {
  assert.deepEqual(
    endingWith(UNITS, "30014").map((unit) => unit.shop_number),
    ["PC7130014"],
  );
  assert.equal(endingWith(UNITS, "130001").length, 1);
  assert.equal(endingWith(UNITS, "").length, 0);
});

test("the distance is the optimal string alignment distance: CA to ABC is 3, a swap is 1", () => {
  // The usual example that tells it from the unrestricted distance, which is 2 (from memory).
  assert.equal(slips("CA", "ABC"), 3);
  assert.equal(slips("30041", "30014"), 1);
  assert.equal(slips("kitten", "sitting"), 3);
  assert.equal(slips("", "abc"), 3);
});

test("the nearest known come first, those too far are left out", () => {
  assert.deepEqual(
    nearest(UNITS, "130041").map((unit) => unit.shop_number),
    ["PC7130001", "PC7130014"],
  );
  assert.deepEqual(nearest(UNITS, "98765"), []);
  assert.deepEqual(nearest(UNITS, "30"), []);
});

test("a label leads to its unit, and another plant's is told", () => {
  const [unit, other] = UNITS;
  assert.deepEqual(labelRead(UNITS, [` ${unit.chassis.toLowerCase()}\n`]), { number: unit.chassis, words: "" });
  assert.deepEqual(labelRead(UNITS, [unit.shop_number, unit.shop_number]), { number: unit.shop_number, words: "" });
  assert.match(labelRead(UNITS, ["9XX9A1100AA099999"]).words, /says 9XX9A1100AA099999, which is no unit on this phone/);
  assert.match(labelRead(UNITS, [unit.chassis, other.chassis]).words, /Several labels/);
  assert.match(labelRead(UNITS, []).words, /No code was read/);
  assert.equal(labelRead(UNITS, [unit.chassis.slice(-5)]).number, "", "a part of a number is no label of ours");
  const long = labelRead(UNITS, ["https://example.org/".repeat(9)]);
  assert.ok(long.number === "" && long.words.length < 250);
});

const OWN = {
  letters: "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
  ends: "K",
  find: 5,
  check: "mod-97-10",
  chassis: [
    { kind: "text", text: "OW", length: 2 },
    { kind: "model", text: "", length: 0 },
    { kind: "any", text: "", length: 1 },
    { kind: "sequence", text: "", length: 5 },
    { kind: "check", text: "", length: 2 },
  ],
  shop: [
    { kind: "text", text: "W", length: 1 },
    { kind: "digit", text: "", length: 1 },
    { kind: "sequence", text: "", length: 5 },
    { kind: "text", text: "K", length: 1 },
  ],
};

test("a plant's own number tells its sequence and shop number, and its letters are its own", () => {
  const model = { code: "BRG34", digit: "7" };

  assert.deepEqual(numbersOf("OWBRG34T5000207", model, OWN), { sequence: 50002, shop_number: "W750002K" });
  assert.equal(numbersOf("OWBRG34T500020", model, OWN), null);
  assert.equal(numbersOf("QWBRG34T5000207", model, OWN), null);
  assert.equal(numbersOf("OWA21T5000188", model, OWN), null);
  assert.equal(lengthOf("BRG34", OWN), 15);
  assert.deepEqual(readTyped("owq", OWN), { text: "OWQ", changed: [] });
});

test("a wrong sign of a number that checks is seen (sources: qc/domain/numbers/check_signs.py)", () => {
  assert.ok(checks("OWBRG34T5000207", "BRG34", OWN));
  assert.ok(!checks("OWBRG34T5000208", "BRG34", OWN));
  // The example of the ninth of seventeen signs with X, from memory.
  const common = { ...OWN, check: "weighted-mod-11", chassis: ["any", "check", "any"].map(part) };
  assert.ok(checks("1M8GDM9AXKP042788", "", common));
  assert.ok(!checks("1M8GDM9A1KP042788", "", common));
  assert.ok(checks("whatever", "", { ...common, check: "of a later server" }));
});

/** @param {string} kind */
const part = (kind) => ({ kind, text: "", length: kind === "check" ? 1 : 8 });
