/** The server's clock as this phone can tell it, and ages in words. */

import { counted, language, t } from "./language.js";

/**
 * Server's clock minus this phone's, taking the answer to have been written half-way.
 * @param {number} sent_ms
 * @param {number} server_now
 * @param {number} received_ms
 */
export function clockOffset(sent_ms, server_now, received_ms) {
  return Math.round(server_now - (sent_ms + received_ms) / 2);
}

/**
 * An age in words, rounded down: "under 1 min", "12 min", "3 h 05 min", "2 days".
 * @param {number} milliseconds
 */
export function age(milliseconds) {
  const minutes = Math.floor(milliseconds / 60_000);
  if (minutes < 1) return t`under 1 min`;
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return `${hours} h ${String(minutes % 60).padStart(2, "0")} min`;
  return counted(Math.floor(hours / 24), "1 day", "{0} days");
}

/**
 * How long ago, in words.
 * @param {number} milliseconds
 */
export function ago(milliseconds) {
  return t`${age(Math.max(0, milliseconds))} ago`;
}

/**
 * The day of an instant in a time zone, "2026-03-03".
 * @param {number} ms
 * @param {string} timeZone  IANA name
 */
export function dayOf(ms, timeZone) {
  const parts = new Intl.DateTimeFormat("en-GB", { year: "numeric", month: "2-digit", day: "2-digit", timeZone });
  const told = Object.fromEntries(parts.formatToParts(ms).map(({ type, value }) => [type, value]));
  return `${told.year}-${told.month}-${told.day}`;
}

/**
 * Day and time in the plant's time zone, "Tue 3 Mar, 14:05".
 * @param {number} ms
 * @param {string} timeZone  IANA name
 */
export function moment(ms, timeZone) {
  return new Intl.DateTimeFormat(language(), {
    weekday: "short",
    day: "numeric",
    month: "short",
    hour: "2-digit",
    minute: "2-digit",
    hour12: false,
    timeZone,
  }).format(ms);
}

/**
 * Time until the next try of the sync: 5 s doubled at each failure, at most 5 min, spread by half so that sixty
 * phones that lost the server together do not return together.
 * @param {number} failures
 * @param {number} random  in [0, 1)
 */
export function retryDelay(failures, random) {
  const base = Math.min(300_000, 5_000 * 2 ** failures);
  return Math.max(5_000, Math.round(base * (0.5 + random * 0.5)));
}
