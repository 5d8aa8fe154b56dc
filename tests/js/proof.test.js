import assert from "node:assert/strict";
import test from "node:test";

import { base64url, keptBack, runsOf, spans } from "../../pwa/lib/proof.js";
import { makeKey } from "../../pwa/lib/signing-in.js";

const DAY = 24 * 3600 * 1000;

/** @param {number} seq @param {string} author @param {any} [more] */
function entry(seq, author, more = {}) {
  const op = { id: `id${seq}`, author };
  return /** @type {any} */ ({
    seq,
    id: op.id,
    unit: "U",
    kind: "k",
    op,
    text: JSON.stringify(op),
    saved_ms: 1000,
    ...more,
  });
}

/** @param {any[]} keys */
function settings(...keys) {
  return /** @type {any} */ ({ device: "P1", install_epoch: "e1", key_id: "k1", keys });
}

/** @param {string} person */
async function keyOf(person, key_id = "k1") {
  return { ...(await makeKey()), person, certificate: `c-${person}`, key_id };
}

/** @param {string} text */
function bytes(text) {
  return Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (each) => each.charCodeAt(0));
}

test("the private key cannot leave the phone, the public one is a point of 65 bytes", async () => {
  const { key, public_key } = await makeKey();

  assert.equal(key.extractable, false);
  assert.equal(bytes(public_key).length, 65);
  await assert.rejects(crypto.subtle.exportKey("pkcs8", key));
});

test("each author's records in a row are one run, a seal is a run of its own", async () => {
  const one = await keyOf("I1"),
    two = await keyOf("I2");
  const seal = { key: one.key, certificate: "c-release" };

  const runs = await runsOf(
    [entry(1, "I1"), entry(2, "I1"), entry(3, "I2"), entry(4, "I1", { seal }), entry(5, "I3")],
    settings(one, two),
  );

  assert.deepEqual(
    runs.map((run) => [run.operations, run.certificate]),
    [
      [2, "c-I1"],
      [1, "c-I2"],
      [1, "c-release"],
      [1, null],
    ],
  );
});

test("a run's signature is over device, installation and the hashes of the bytes that are sent", async () => {
  const one = await keyOf("I1");
  const entries = [entry(1, "I1"), entry(2, "I1", { text: '{"ä": 1}' })];

  const [run] = await runsOf(entries, settings(one));

  const raw = /** @type {Uint8Array<ArrayBuffer>} */ (bytes(one.public_key));
  const key = await crypto.subtle.importKey("raw", raw, { name: "ECDSA", namedCurve: "P-256" }, false, ["verify"]);
  const hashes = [];
  for (const each of entries)
    hashes.push(
      Buffer.from(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(each.text))).toString("hex"),
    );
  /** @param {string} device */
  const holds = (device) =>
    crypto.subtle.verify(
      { name: "ECDSA", hash: "SHA-256" },
      key,
      /** @type {Uint8Array<ArrayBuffer>} */ (bytes(run.signature ?? "")),
      new TextEncoder().encode(`run of operations\n${device}\ne1\n${hashes.join("")}\n`),
    );
  assert.equal(await holds("P1"), true);
  assert.equal(await holds("P2"), false);
});

test("what nothing proves waits a day for its author, and holds back nothing but its own unit", async () => {
  const one = await keyOf("I1");
  const entries = [entry(1, "I1"), entry(2, "I2"), entry(3, "I1"), entry(4, "I1"), entry(5, "I1")];
  entries.forEach((each, at) => Object.assign(each, { unit: ["A", "A", "B", "A", null][at] }));
  /** @param {import("../../pwa/lib/shapes").Settings} known @param {number} now */
  const kept = (known, now) => keptBack(entries, known, now).map(({ seq }) => seq);

  assert.deepEqual(kept(settings(one), 1000 + DAY / 2), [2, 4]);
  assert.deepEqual(kept(settings(one), 1000 + DAY), []);
  assert.deepEqual(kept(settings(one, await keyOf("I2")), 2000), []);
  assert.deepEqual(kept(settings({ ...one, key_id: "an earlier one" }), 2000), [1, 2, 3, 4, 5]);
  entries[1].unit = null; // on the line itself: nothing rests on it
  assert.deepEqual(kept(settings(one), 2000), [2]);
});

test("more than the server is told of at once waits whole", async () => {
  const one = await keyOf("I1");
  const entries = Array.from({ length: 2100 }, (_, at) =>
    Object.assign(entry(at + 1, at % 2 ? "I1" : "I2"), { unit: null }),
  );

  const kept = keptBack(entries, settings(one), 2000);

  assert.equal(kept.length, 1000 + 2100 - 1999);
  assert.equal(spans(kept).length, 1000);
});

test("numbers are told as spans", () => {
  assert.deepEqual(spans([2, 3, 4, 7, 9, 10].map((seq) => entry(seq, "I1"))), [
    [2, 4],
    [7, 7],
    [9, 10],
  ]);
  assert.deepEqual(spans([]), []);
});

test("base64url has no padding and no sign that an address would escape", () => {
  assert.equal(base64url(Uint8Array.from([251, 255, 254, 0]).buffer), "-__-AA");
});
