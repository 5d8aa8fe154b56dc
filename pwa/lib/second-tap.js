/** A second tap at the same place never reaches what came under the finger after the first one. */

export const STILL_MS = 1200;
const NEAR_PX = 48;

/**
 * @typedef {{at: number, x: number, y: number, what: string}} Tap  at: ms on the event's clock; what: "" for
 *   nothing
 */
/** @typedef {{left: number, top: number, right: number, bottom: number}} Box  as much of it as can be seen, in px */

/**
 * Tells for each tap whether it may do its work. What lay under the place at the last tap already, such as the next key
 * of a keypad, is always reached, and so is the same thing again; what came there since, or moved there because a
 * notice came or went, is reached once the finger has been still, or from another place.
 * @returns {(tap: Tap, near: (distance: number) => Map<string, Box>) => boolean}
 */
export function tapGuard() {
  /** @type {(Tap & {there: Map<string, Box>}) | null} */
  let last = null;
  return (tap, near) => {
    const there = near(NEAR_PX);
    const isSecond = last && tap.at - last.at < STILL_MS && Math.hypot(tap.x - last.x, tap.y - last.y) < NEAR_PX;
    const isNew = tap.what && tap.what !== last?.what && !lay(last?.there.get(tap.what), there.get(tap.what), tap);
    if (isSecond && isNew) return false;
    last = { ...tap, there };
    return true;
  };
}

/**
 * Whether a thing lay under the place before and has not moved since.
 * @param {Box | undefined} before
 * @param {Box | undefined} now
 * @param {Tap} tap
 */
function lay(before, now, { x, y }) {
  if (!before || !now || x < before.left || x > before.right || y < before.top || y > before.bottom) return false;
  return /** @type {const} */ (["left", "top", "right", "bottom"]).every(
    (side) => Math.abs(before[side] - now[side]) < 2,
  );
}

const TOUCHABLE = "[data-act], [data-notice], a[href], button, label.button, summary";

/** @param {Element} element */
export function touchableAt(element) {
  return element.closest(TOUCHABLE);
}

/**
 * What a touch on this does, the same over redraws: where it stands, and what it is.
 * @param {Element} element
 */
export function whatIs(element) {
  const { act, value, zone, notice, step } = /** @type {HTMLElement} */ (element).dataset;
  if (step) return `step ${step}`;
  const said = act ? [act, value, zone] : [notice, element.getAttribute("href"), element.textContent?.trim()];
  return JSON.stringify([location.hash, element.tagName, ...said]);
}

/**
 * Everything that can be seen and touched around a place, and where it lies.
 * @param {number} x
 * @param {number} y
 * @param {number} distance  px
 */
export function touchablesNear(x, y, distance) {
  /** @type {Map<string, Box>} */
  const near = new Map();
  for (const each of document.querySelectorAll(TOUCHABLE)) {
    const box = seen(each);
    if (Math.hypot(Math.max(box.left - x, 0, x - box.right), Math.max(box.top - y, 0, y - box.bottom)) < distance)
      near.set(whatIs(each), box);
  }
  return near;
}

/**
 * The part of an element that its region of the page (head, body, notice, actions) does not cut off.
 * @param {Element} element
 * @returns {Box}
 */
function seen(element) {
  const { left, top, right, bottom } = element.getBoundingClientRect();
  const region = element.closest("body > *")?.getBoundingClientRect();
  return region
    ? { left, right, top: Math.max(top, region.top), bottom: Math.min(bottom, region.bottom) }
    : { left, top, right, bottom };
}
