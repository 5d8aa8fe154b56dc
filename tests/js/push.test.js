import assert from "node:assert/strict";
import test from "node:test";

import { fact, operation } from "../../pwa/lib/facts.js";
import { KEPT_MS, expired, expiredPhotos, toSend, unsent } from "../../pwa/lib/outbox.js";
import { MOST_BYTES, MOST_OPERATIONS, chainAfter, nextBatch, pushBody, settleBatch } from "../../pwa/lib/push.js";

const MAKER = { device: "P1", install_epoch: "e1", author: "I1", session: "s1", seen_through: 7 };
const TIME = { wall_ms: 1000, tz_min: 60, mono_ms: 5 };

/** @param {number} seq */
function entry(seq, note = "n") {
  const op = operation(fact("zone_looked_at", "U", { zones: ["a"], note }), MAKER, seq, TIME);
  return { seq, id: op.id, unit: "U", kind: op.kind, op, text: JSON.stringify(op), saved_ms: 1000 };
}

test("an operation names the tables that it is made under, and nothing where the phone has none yet", () => {
  const made = fact("zone_looked_at", "U", { zones: ["a"] });

  assert.equal(operation(made, { ...MAKER, plant: "ab" }, 1, TIME).plant, "ab");
  assert.equal("plant" in operation(made, MAKER, 1, TIME), false);
});

/** @param {any} each */
function told(each, verdict, more = {}) {
  return { id: each.id, verdict, code: "", reason: "", expected: null, number: 10 + each.seq, ...more };
}

test("a phone keeps the history that it saw once the server's is another, and since when", () => {
  const saw = { chain: { size: 9, head: "a" }, history_differs_ms: 0 };
  const now = { size: 5, head: "b" };

  assert.deepEqual(chainAfter(saw, { chain: now, history_differs: false }, 7), { chain: now });
  assert.deepEqual(chainAfter(saw, { chain: now }, 7), { chain: now });
  const alarmed = { ...saw, ...chainAfter(saw, { chain: now, history_differs: true }, 7) };
  assert.deepEqual(alarmed, { chain: saw.chain, history_differs_ms: 7 });
  assert.deepEqual(chainAfter(alarmed, { chain: now, history_differs: true }, 8), { history_differs_ms: 7 });
  assert.deepEqual(chainAfter(alarmed, { chain: now, history_differs: false }, 8), {});
});

test("an envelope has exactly the fields of the contract, empty body fields are left out", () => {
  const op = operation(
    fact("defect_recorded", "U", { zone: "z", note: "", mark: null, inspection: undefined }),
    MAKER,
    3,
    TIME,
  );

  assert.deepEqual(Object.keys(op).sort(), [
    "author",
    "body",
    "deps",
    "device",
    "id",
    "install_epoch",
    "kind",
    "mono_ms",
    "schema",
    "seen_through",
    "seq",
    "session",
    "tz_min",
    "unit",
    "wall_ms",
  ]);
  assert.deepEqual(op.body, { zone: "z" });
});

test("a batch holds at most 100 operations and at most 256 kB, and always one", () => {
  const many = Array.from({ length: 150 }, (_, place) => entry(place + 1));
  const large = Array.from({ length: 20 }, (_, place) => entry(place + 1, "ä".repeat(10_000)));

  assert.equal(nextBatch(many).length, MOST_OPERATIONS);
  const batch = nextBatch(large);
  assert.ok(batch.length >= 1 && batch.length < 20);
  assert.ok(new TextEncoder().encode(pushBody({ protocol: 1 }, batch)).length <= MOST_BYTES);
  assert.equal(nextBatch([entry(1, "x".repeat(300_000))]).length, 1);
});

test("operations are sent as the bytes that were kept", () => {
  const one = { ...entry(1), text: '{"id": "kept  as it was"}' };

  assert.equal(
    pushBody({ protocol: 1 }, [one, one]),
    '{"protocol":1,"operations":[{"id": "kept  as it was"},{"id": "kept  as it was"}]}',
  );
});

test("each operation is settled by its own verdict, in whatever order they come", () => {
  const batch = [entry(1), entry(2), entry(3)];
  const answers = [
    told(batch[2], "parked"),
    told(batch[0], "applied"),
    told(batch[1], "refused", { code: "unknown_code", reason: "why" }),
  ];

  const result = settleBatch(batch, answers, "epoch", 99);

  assert.deepEqual(
    result.verdicts.map((each) => [each.seq, each.verdict, each.code]),
    [
      [1, "applied", ""],
      [2, "refused", "unknown_code"],
      [3, "parked", ""],
    ],
  );
  assert.deepEqual([result.resend, result.stop], [null, ""]);
});

test("an operation that the answer leaves out stays unsent", () => {
  const batch = [entry(1), entry(2)];

  const result = settleBatch(batch, [told(batch[0], "applied")], "epoch", 99);

  assert.deepEqual(
    result.verdicts.map((each) => each.seq),
    [1],
  );
  assert.match(result.stop, /left out/);
});

test("a duplicate settles with the verdict of the first time", () => {
  const batch = [entry(1), entry(2)];
  const answers = [
    told(batch[0], "duplicate", { code: "applied" }),
    told(batch[1], "duplicate", { code: "refused", reason: "same_person: another person: not you" }),
  ];

  const { verdicts } = settleBatch(batch, answers, "epoch", 99);

  assert.deepEqual(
    verdicts.map((each) => [each.verdict, each.code, each.reason]),
    [
      ["applied", "", ""],
      ["refused", "same_person", "another person: not you"],
    ],
  );
});

test("a gap keeps everything from there unsent and tells where to go on", () => {
  const batch = [entry(5), entry(6)];
  const answers = batch.map((each) => told(each, "gap", { expected: 3, number: null }));

  assert.deepEqual(settleBatch(batch, answers, "epoch", 99), { verdicts: [], resend: 3, stop: "" });
});

test("what is too new for the server, or an answer that this version does not know, stops and stays", () => {
  for (const word of ["too_new", "something_else"]) {
    const batch = [entry(1), entry(2), entry(3)];
    const result = settleBatch(
      batch,
      [told(batch[0], "applied"), told(batch[1], word), told(batch[2], "gap", { expected: 2 })],
      "epoch",
      99,
    );

    assert.deepEqual(
      result.verdicts.map((each) => each.seq),
      [1],
    );
    assert.notEqual(result.stop, "");
  }
});

test("verdicts of a server before its restore count as none", () => {
  const entries = [entry(1), entry(2), entry(3)];
  const verdicts = new Map([
    [1, { epoch: "old" }],
    [2, { epoch: "new" }],
  ]);

  assert.deepEqual(
    unsent(entries, /** @type {any} */ (verdicts), "new").map((each) => each.seq),
    [1, 3],
  );
});

test("what was set aside is asked about again and holds back nobody's new records, though nothing here proves it", () => {
  const entries = [1, 2, 3, 4].map((seq) => entry(seq));
  const verdicts = new Map(
    /** @type {any} */ ([
      [1, { epoch: "new", verdict: "quarantined" }],
      [2, { epoch: "new", verdict: "applied" }],
      [3, { epoch: "old", verdict: "parked" }],
    ]),
  );
  const none = (/** @type {any} */ all) => all.slice(0, 0);
  const every = (/** @type {any} */ all) => all;
  const sent = (/** @type {any} */ provable) =>
    toSend(entries, /** @type {any} */ (verdicts), "new", provable).map((each) => each.seq);

  assert.deepEqual(sent(every), [1, 3, 4]);
  assert.deepEqual(sent(none), [1]);
});

test("only what the present server took in effect fourteen days ago may go; refusals stay until settled", () => {
  const entries = [1, 2, 3, 4, 5, 6].map((seq) => entry(seq));
  const old = { epoch: "new", at_ms: 0 };
  const verdicts = new Map(
    /** @type {any} */ ([
      [1, { ...old, verdict: "applied" }],
      [2, { ...old, verdict: "applied", at_ms: 1 }],
      [3, { ...old, verdict: "refused" }],
      [4, { ...old, verdict: "refused", settled: "read" }],
      [5, { ...old, verdict: "applied", epoch: "old" }],
    ]),
  );

  assert.deepEqual(expired(entries, /** @type {any} */ (verdicts), "new", KEPT_MS), [1, 4]);
});

test("photos go by age or over the budget, never one that the server does not hold", () => {
  const photo = (/** @type {string} */ sha256, /** @type {number} */ sent_ms, sent = true) => ({
    sha256,
    size: 200_000_000,
    sent_ms,
    sent,
  });

  assert.deepEqual(expiredPhotos([photo("a", 5), photo("b", 1, false), photo("c", 2)], 10), ["c", "a"]);
  assert.deepEqual(expiredPhotos([photo("a", 5)], 10), []);
  assert.deepEqual(expiredPhotos([photo("a", 5)], 5 + KEPT_MS), ["a"]);
});
