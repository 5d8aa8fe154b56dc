/** A second tap at the same place never reaches what came under the finger after the first one. */

export const STILL_MS = 1200;
const NEAR_PX = 48;

/** @typedef {{at: number, x: number, y: number, what: string}} Tap  at: ms on the event's clock; what: "" for nothing */

/**
 * Tells for each tap whether it may do its work. What was near the last tap already, such as the next key of a keypad,
 * is always reached; what came there since is reached once the finger has been still, or from another place.
 * @returns {(tap: Tap, near: (distance: number) => Set<string>) => boolean}
 */
export function tapGuard() {
  /** @type {(Tap & {there: Set<string>}) | null} */
  let last = null;
  return (tap, near) => {
    const isSecond = last && tap.at - last.at < STILL_MS && Math.hypot(tap.x - last.x, tap.y - last.y) < NEAR_PX;
    if (isSecond && tap.what && !last?.there.has(tap.what)) return false;
    last = { ...tap, there: near(NEAR_PX) };
    return true;
  };
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
 * Everything that can be touched around a place.
 * @param {number} x
 * @param {number} y
 * @param {number} distance  px
 */
export function touchablesNear(x, y, distance) {
  const near = [...document.querySelectorAll(TOUCHABLE)].filter((each) => {
    const box = each.getBoundingClientRect();
    return Math.hypot(Math.max(box.left - x, 0, x - box.right), Math.max(box.top - y, 0, y - box.bottom)) < distance;
  });
  return new Set(near.map(whatIs));
}
