/**
 * How long a view was in front of the person who marks it: said with each sweep of zones, since a sweep may hide a
 * look.
 */

/** @import {App, Front} from "./shapes" */

/**
 * The view that is in front now, "" for none; the time of the one before is kept.
 * @param {Front} front
 * @param {string} key  "inspection view"
 * @param {number} now  ms of a clock that only rises
 */
export function inFront(front, key, now) {
  if (front.key === key) return;
  if (front.key) front.ms.set(front.key, (front.ms.get(front.key) ?? 0) + now - front.at);
  front.key = key;
  front.at = now;
}

/**
 * @param {App} app
 * @param {string} key
 */
export function wasInFront({ front }, key) {
  return front.ms.get(key) ?? 0;
}
