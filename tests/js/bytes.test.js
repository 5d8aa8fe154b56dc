import assert from "node:assert/strict";
import test from "node:test";

import { age, clockOffset, moment, retryDelay } from "../../pwa/lib/clock.js";
import { base64 } from "../../pwa/lib/export.js";
import { sha256 } from "../../pwa/lib/facts.js";
import { fitted, isWhole } from "../../pwa/lib/picture.js";
import { address, match } from "../../pwa/lib/router.js";
import { implausible, judged, numberTyped, readingTyped, readingWords } from "../../pwa/lib/readings.js";
import { whatToDo } from "../../pwa/screens/refused.js";

const bytes = (/** @type {string} */ text) => new TextEncoder().encode(text).buffer;

test("SHA-256 of FIPS 180-4's example", async () => {
  assert.equal(await sha256(bytes("abc")), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
});

test("base64 of RFC 4648, section 10", () => {
  const vectors = {
    "": "",
    f: "Zg==",
    fo: "Zm8=",
    foo: "Zm9v",
    foob: "Zm9vYg==",
    fooba: "Zm9vYmE=",
    foobar: "Zm9vYmFy",
  };
  for (const [plain, coded] of Object.entries(vectors)) assert.equal(base64(bytes(plain)), coded);
});

test("base64 of a whole photo does not overflow and comes back", () => {
  const photo = new Uint8Array(3_000_000).map((_, place) => place % 251);

  assert.deepEqual(new Uint8Array(Buffer.from(base64(photo.buffer), "base64")), photo);
});

test("photos are never enlarged and keep their shape", () => {
  assert.deepEqual(fitted(4000, 3000, 2048), { width: 2048, height: 1536 });
  assert.deepEqual(fitted(3000, 4000, 2048), { width: 1536, height: 2048 });
  assert.deepEqual(fitted(640, 480, 2048), { width: 640, height: 480 });
  assert.deepEqual(fitted(10_000, 1, 2048), { width: 2048, height: 1 });
});

test("a picture that breaks off is told from a whole one, also where a small one is kept inside it", () => {
  // Markers of ITU-T T.81, table B.1: SOI, APP1 (with a whole small picture in it), SOS, coded data, RST0, EOI.
  const small = [0xff, 0xd8, 0xff, 0xd9];
  const jpeg = [
    0xff,
    0xd8,
    0xff,
    0xe1,
    0,
    2 + small.length,
    ...small,
    0xff,
    0xda,
    0,
    3,
    1,
    7,
    0xff,
    0x00,
    8,
    0xff,
    0xd0,
    9,
    0xff,
    0xd9,
  ];
  const of = (/** @type {number[]} */ numbers) => new Uint8Array(numbers).buffer;
  assert.ok(isWhole(of(jpeg)));
  assert.ok(isWhole(of([...jpeg, 1, 2, 3])), "what a camera hangs on behind the picture is let be");
  for (let length = 0; length < jpeg.length; length += 1)
    assert.ok(!isWhole(of(jpeg.slice(0, length))), `${length} bytes of it`);
  const webp = [...Buffer.from("RIFF"), 8, 0, 0, 0, ...Buffer.from("WEBPVP8 ")];
  assert.ok(isWhole(of(webp)));
  assert.ok(!isWhole(of(webp.slice(0, 15))));
});

test("the clock's offset takes the answer from the middle of the round", () => {
  assert.equal(clockOffset(1000, 2_222_200, 1400), 2_221_000);
});

test("ages are rounded down and times stand in the plant's zone on both sides of the spring change", () => {
  assert.deepEqual([0, 60_000, 7_199_999, 7_200_000, 50 * 3_600_000].map(age), [
    "under 1 min",
    "1 min",
    "1 h 59 min",
    "2 h 00 min",
    "2 days",
  ]);
  // Europe/London goes to summer time on 2026-03-29 at 01:00 UTC (IANA time zone database).
  assert.match(moment(Date.UTC(2026, 2, 29, 0, 59), "Europe/London"), /00:59/);
  assert.match(moment(Date.UTC(2026, 2, 29, 1, 0), "Europe/London"), /02:00/);
});

test("tries again after 5 s to 5 min, later and later, spread out", () => {
  for (let failures = 0; failures < 30; failures += 1) {
    const [soonest, latest] = [retryDelay(failures, 0), retryDelay(failures, 0.999)];
    assert.ok(soonest >= 5_000 && latest <= 300_000 && soonest <= latest);
  }
  assert.ok(retryDelay(1, 0.9) < retryDelay(5, 0.1));
});

test("an address goes there and back, whatever it names", () => {
  const made = address("unit", "0PC7", "zone", "a/b ü");

  assert.deepEqual(match("unit/:chassis/zone/:zone", made.slice(2)), { chassis: "0PC7", zone: "a/b ü" });
  assert.equal(match("unit/:chassis", made.slice(2)), null);
});

test("a value is a number or nothing: no blank, no word, no exponent counts", () => {
  assert.deepEqual(["12", "12,5", " -1.5 ", ".5", "+3", "−2"].map(numberTyped), [12, 12.5, -1.5, 0.5, 3, -2]);
  assert.deepEqual(["", " ", "ok", "1e3", "12 V", "1.2.3", "NaN", "9999999999"].map(numberTyped), Array(8).fill(null));
});

test("every refusal tells what to do", () => {
  for (const code of ["unknown_code", "same_person", "anything else"])
    assert.ok(whatToDo({ code, reason: "" }).length > 20);
});

test("an open-ended reading is kept as such and judged only where it tells", () => {
  const limits = (/** @type {number | null} */ lower, /** @type {number | null} */ upper) =>
    /** @type {any} */ ({ lower, upper });
  assert.deepEqual(readingTyped(" >200"), { value: 200, beyond: "above" });
  assert.deepEqual(readingTyped("< 0,05"), { value: 0.05, beyond: "below" });
  assert.equal(readingTyped(">"), null);
  assert.equal(readingWords({ value: 200, beyond: "above" }, "Mohm"), ">200 Mohm");
  // The same answers as the server's own, which tests/store/test_retests.py asks for.
  assert.deepEqual(
    [200, 1, 0.5].map((value) => judged(limits(1, null), value, "above")),
    [true, true, null],
  );
  assert.deepEqual(
    [500, 40, 30].map((value) => judged(limits(null, 40), value, "above")),
    [false, false, null],
  );
  assert.deepEqual(
    [5, 15, 20].map((value) => judged(limits(null, 15), value, "below")),
    [true, true, null],
  );
});

test("what a reading cannot plausibly be is asked about", () => {
  const test_ = /** @type {any} */ ({ id: "G1", unit: "mbar", least: 0, most: 150 });
  assert.deepEqual(
    [0, 150].map((value) => implausible(test_, value)),
    ["", ""],
  );
  assert.match(implausible(test_, -5), /less than 0/);
  assert.match(implausible(test_, 999_999_999), /more than 150/);
  assert.equal(implausible({ ...test_, least: null, most: null }, -5), "");
});
