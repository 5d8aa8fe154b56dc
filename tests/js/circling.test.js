/** A finger on a photo: what circle it means. */

import assert from "node:assert/strict";
import test from "node:test";

import { circleOf, sized } from "../../pwa/lib/circling.js";

const SIZE = { width: 400, height: 200 };

test("a stroke is the ellipse in its box, in thousandths of the photo", () => {
  /** @type {[number, number][]} */
  const round = [
    [40, 100],
    [100, 20],
    [161, 99],
    [100, 180],
  ];

  assert.deepEqual(circleOf(round, SIZE, null), [0.1, 0.1, 0.403, 0.9]);
});

test("a stroke that leaves the photo ends at its edge", () => {
  const beyond = circleOf(
    [
      [-50, -20],
      [900, 90],
    ],
    SIZE,
    null,
  );

  assert.deepEqual(beyond, [0, 0, 1, 0.45]);
});

test("a straight stroke still makes a circle that can be seen", () => {
  const [left, top, right, bottom] = circleOf(
    [
      [100, 200],
      [200, 200],
    ],
    SIZE,
    null,
  );

  assert.deepEqual([left, right, top, bottom], [0.25, 0.5, 0.96, 1]);
});

test("a tap puts a round circle there, and moves the one before", () => {
  assert.deepEqual(circleOf([[200, 100]], SIZE, null), [0.45, 0.4, 0.55, 0.6]); // 40 px each way
  assert.deepEqual(circleOf([[100, 50]], SIZE, [0.4, 0.4, 0.6, 0.8]), [0.15, 0.05, 0.35, 0.45]);
});

test("larger and smaller keep the middle and stay on the photo", () => {
  assert.deepEqual(sized(null, 1), [0.4, 0.4, 0.6, 0.6]);
  assert.deepEqual(sized([0.4, 0.4, 0.6, 0.6], 1), [0.375, 0.375, 0.625, 0.625]);
  assert.deepEqual(sized([0.375, 0.375, 0.625, 0.625], -1), [0.4, 0.4, 0.6, 0.6]);

  /** @type {import("../../pwa/lib/shapes").Circle | null} */
  let circle = null;
  for (const way of /** @type {const} */ ([...Array(20).fill(1), ...Array(40).fill(-1)])) {
    circle = sized(circle, way);
    const [left, top, right, bottom] = circle;
    assert.ok(left >= 0 && top >= 0 && right <= 1 && bottom <= 1 && left < right && top < bottom, `${circle}`);
    for (const share of circle) assert.equal(Math.round(share * 1000) / 1000, share);
  }
});
