/** A finger on a photo: the ellipse that it means, in shares of the photo's width and height. Pure. */

/** @import {Circle} from "./shapes" */

/** @typedef {[number, number]} Point  shares of the photo, or px */

const TAP_PX = 24; // what moves less is a tap
const TAPPED = 0.2; // of the photo's shorter side: how wide a tap's circle is
const LEAST = 0.04; // of a side
const STEP = 1.25;

/**
 * Whether a finger hardly moved.
 * @param {Point[]} stroke  px
 */
export function isTap(stroke) {
  const reach = (/** @type {number[]} */ values) => Math.max(...values) - Math.min(...values);
  return Math.max(reach(stroke.map(([x]) => x)), reach(stroke.map(([, y]) => y))) < TAP_PX;
}

/**
 * The circle that a stroke means: the ellipse in its box, or, where the finger hardly moved, the one before moved to
 * there, or one of a plain size.
 * @param {Point[]} stroke  px on the photo, at least one
 * @param {{width: number, height: number}} size  of the photo as it is shown, px
 * @param {Circle | null} before
 * @returns {Circle}
 */
export function circleOf(stroke, { width, height }, before) {
  const [xs, ys] = [stroke.map(([x]) => x), stroke.map(([, y]) => y)];
  const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  if (!isTap(stroke)) return within([left / width, top / height, right / width, bottom / height]);
  const half = (Math.min(width, height) * TAPPED) / 2;
  const reach = before ? [(before[2] - before[0]) / 2, (before[3] - before[1]) / 2] : [half / width, half / height];
  return around([(left + right) / 2 / width, (top + bottom) / 2 / height], reach[0], reach[1]);
}

/**
 * A circle made larger or smaller about its middle; without one, a plain one in the middle of the photo.
 * @param {Circle | null} circle
 * @param {1 | -1} way  1 larger
 * @returns {Circle}
 */
export function sized(circle, way) {
  const [left, top, right, bottom] = circle ?? [0.4, 0.4, 0.6, 0.6];
  const by = circle ? STEP ** way / 2 : 0.5;
  return around([(left + right) / 2, (top + bottom) / 2], (right - left) * by, (bottom - top) * by);
}

/**
 * @param {Point} middle
 * @param {number} across  half of its width
 * @param {number} down  half of its height
 */
function around([x, y], across, down) {
  return within([x - across, y - down, x + across, y + down]);
}

/**
 * A box cut to the photo, in whole thousandths, and never thinner than can be seen.
 * @param {number[]} box
 * @returns {Circle}
 */
function within([left, top, right, bottom]) {
  const [l, r] = span(left, right);
  const [t, b] = span(top, bottom);
  return [l, t, r, b];
}

/**
 * @param {number} from
 * @param {number} to
 */
function span(from, to) {
  const share = (/** @type {number} */ value) => Math.min(1, Math.max(0, value));
  let [low, high] = [share(from), share(to)];
  if (high - low < LEAST) {
    const middle = Math.min(1 - LEAST / 2, Math.max(LEAST / 2, (low + high) / 2));
    [low, high] = [middle - LEAST / 2, middle + LEAST / 2];
  }
  return [low, high].map((value) => Number(value.toFixed(3)));
}
