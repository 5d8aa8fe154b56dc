/** The app's words for the codes of the record: from the trade, short, the same everywhere. */

import { inWords, language, t } from "./language.js";

/** @type {Record<string, string>} */
export const ROLE = inWords({
  inspector: "Inspector",
  tester: "Tester",
  repairer: "Repairer",
  station_lead: "Station lead",
  quality_manager: "Quality manager",
  dispatch: "Dispatch",
  administrator: "Administrator",
  planner: "Planner",
});
/** @type {Record<string, string>} */
export const LIGHT = inWords({
  bright: "Bright",
  overcast: "Overcast",
  low_sun: "Low sun",
  wet: "Wet skin",
  lamps: "Dark, with lamps",
});
/** @type {Record<string, string>} */
export const WEATHER = inWords({ dry: "Dry", rain: "Rain", wind: "Wind", frost: "Frost", indoors: "Indoors" });
/** @type {Record<string, string>} */
export const NOT_LOOKED = inWords({
  no_safe_access: "No safe access",
  weather: "Weather",
  blocked: "Blocked",
  dark: "Too dark",
  no_time: "No time",
  other: "Other",
});
/** @type {Record<string, string>} */
export const PURPOSE = inWords({
  presentation: "Presentation",
  relook: "Second look by another person",
  containment: "Containment look",
  zones: "Single zones again",
});
/** @type {Record<string, string>} */
export const UNIT_STATE = inWords({
  planned: "Planned",
  on_line: "On the line",
  at_end_points: "At the end points",
  in_rework: "In rework",
  released: "Released",
  cancelled: "Cancelled",
});
/**
 * Where a unit stands, that no plan holds it first.
 * @param {{state: string, unplanned?: boolean}} unit
 */
export function stateWords({ state, unplanned }) {
  const told = named(UNIT_STATE, state);
  return !unplanned ? told : state === "planned" ? t`Not planned` : t`Not planned · ${told}`;
}

/** @type {Record<string, string>} */
export const DEFECT_STATE = inWords({
  open: "Open",
  repaired: "Repaired, wants re-check",
  closed: "Accepted on re-check",
  withdrawn: "Withdrawn",
});
/** @type {Record<string, string>} */
export const SEVERITY = inWords({ critical: "Critical", major: "Major", minor: "Minor" });
/** @type {Record<string, string>} */
export const ORIGIN_STATE = inWords({
  none: "not named",
  suspected: "suspected",
  confirmed: "confirmed",
  disputed: "disputed",
  settled: "settled",
});
/** @type {Record<string, string>} */
export const BASIS = inWords({
  S: "stated in the source",
  M: "from memory of the source, to be checked",
  P: "plant setting",
});

/** @type {Record<string, string>} */
export const KIND = inWords({
  station_passed: "Station passed",
  unit_met: "Unit met before its plan",
  unit_moved: "Unit moved",
  passing_withdrawn: "Passing taken back",
  inspection_begun: "Inspection begun",
  inspection_ended: "Inspection ended",
  zone_looked_at: "Zone looked at",
  zone_not_looked_at: "Zone not looked at",
  defect_recorded: "Defect",
  defect_corrected: "Correction of a defect",
  defect_withdrawn: "Defect withdrawn",
  photo_attached: "Photo",
  photo_withdrawn: "Photo removed",
  test_recorded: "Test",
  test_withdrawn: "Test value taken back",
  origin_suspected: "Suspected origin",
  repair_done: "Repair",
  recheck_accepted: "Re-check accepted",
  recheck_failed: "Re-check failed",
  unit_released: "Release",
});

/** @type {Record<string, string>} */
export const AGAIN = inWords({
  repair: "Repaired since",
  instrument: "Other instrument",
  method: "Other method",
  reading_error: "Reading error",
});

/**
 * The name of a word, or the word itself where the app has no name for it.
 * @param {Record<string, string>} names
 * @param {string | null | undefined} word
 */
export function named(names, word) {
  return word ? t(names[word] ?? word) : "";
}

/**
 * A name within a sentence: where the language writes it small there.
 * @param {string} name
 */
export function within(name) {
  return language() === "en-GB" ? name.toLowerCase() : name;
}
