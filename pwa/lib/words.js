/** The app's words for the codes of the record: from the trade, short, the same everywhere. */

/** @type {Record<string, string>} */
export const ROLE = {
  inspector: "Inspector", tester: "Tester", repairer: "Repairer", station_lead: "Station lead", quality_manager: "Quality manager",
  dispatch: "Dispatch", administrator: "Administrator", planner: "Planner",
};
/** @type {Record<string, string>} */
export const LIGHT = { bright: "Bright", overcast: "Overcast", low_sun: "Low sun", wet: "Wet skin", lamps: "Dark, with lamps" };
/** @type {Record<string, string>} */
export const WEATHER = { dry: "Dry", rain: "Rain", wind: "Wind", frost: "Frost", indoors: "Indoors" };
/** @type {Record<string, string>} */
export const NOT_LOOKED = {
  no_safe_access: "No safe access", weather: "Weather", blocked: "Blocked", dark: "Too dark", no_time: "No time", other: "Other",
};
/** @type {Record<string, string>} */
export const PURPOSE = { presentation: "Presentation", relook: "Second look by another person", containment: "Containment look", zones: "Single zones again" };
/** @type {Record<string, string>} */
export const UNIT_STATE = {
  planned: "Planned", on_line: "On the line", at_end_points: "At the end points", in_rework: "In rework", released: "Released",
};
/** @type {Record<string, string>} */
export const DEFECT_STATE = { open: "Open", repaired: "Repaired, wants re-check", closed: "Accepted on re-check", withdrawn: "Withdrawn" };
/** @type {Record<string, string>} */
export const SEVERITY = { critical: "Critical", major: "Major", minor: "Minor" };
/** @type {Record<string, string>} */
export const ORIGIN_STATE = { none: "not named", suspected: "suspected", confirmed: "confirmed", disputed: "disputed", settled: "settled" };
/** @type {Record<string, string>} */
export const BASIS = { S: "stated in the source", M: "from memory of the source, to be checked", P: "plant setting" };

/** @type {Record<string, string>} */
export const KIND = {
  inspection_begun: "Inspection begun", inspection_ended: "Inspection ended", zone_looked_at: "Zone looked at",
  zone_not_looked_at: "Zone not looked at", defect_recorded: "Defect", defect_corrected: "Correction of a defect",
  defect_withdrawn: "Defect withdrawn", photo_attached: "Photo", photo_withdrawn: "Photo removed", test_recorded: "Test", test_withdrawn: "Test value taken back", origin_suspected: "Suspected origin",
  repair_done: "Repair", recheck_accepted: "Re-check accepted", recheck_failed: "Re-check failed", unit_released: "Release",
};

/** @type {Record<string, string>} */
export const AGAIN = { repair: "Repaired since", instrument: "Other instrument", method: "Other method", reading_error: "Reading error" };

/** @type {Record<string, string>} */
const REFUSED = {
  unknown_code: "The plant's list has changed. Sync, then record it again with a code of the present list.",
  unknown_unit: "The server does not know this unit. Check the chassis number on the metal and tell the planner.",
  not_your_role: "Your role may not record this. Ask someone who may.",
  not_upstream: "That place is not upstream of where it was found. Choose another or leave it open.",
  same_person: "Who repaired it cannot accept it. Another person must re-check.",
  not_repaired: "It is not marked repaired. Mark the repair first.",
  already_withdrawn: "It was withdrawn before. Nothing more to do here.",
  only_manager_lowers_critical: "Only the quality manager lowers a critical. Ask the quality manager.",
  reason_needed: "A reason is needed. Record it again with the reason.",
  implausible_value: "The value lies outside what is plausible. Read again; if it is right, enter it again and confirm it.",
  release_blocked: "Something blocks the release. Open the unit's release page: it lists what.",
  sign_off_stale: "The open list changed after you saw it. Read it again, then sign again.",
  inspection_ended: "That inspection had ended. Begin a new look at the unit and record it there.",
  already_released: "The unit was released before this arrived. Tell the quality manager.",
  depends_on_refused: "It rests on a record that was refused. Settle that one first.",
  unverified_author: "The server could not tell who recorded this. It is kept there without effect until the quality manager looks at it.",
  unproved_signature: "Nothing proves that the PIN was given for this signature. It is kept there without effect: sign anew.",
  device_revoked: "This phone was taken out of use. The record is kept at the server without effect: tell the administrator.",
  from_future: "This phone's clock is far ahead. The record is kept at the server without effect: set the clock, tell the administrator.",
  late: "It arrived more than 60 days late. It is kept at the server without effect: tell the quality manager.",
  id_reused: "The server holds another record under this identity. Export the file and tell the administrator.",
};

/**
 * What a person can do about a record that the server did not take into effect.
 * @param {{code: string, reason: string}} verdict
 */
export function whatToDo(verdict) {
  return REFUSED[verdict.code] ?? "Show this to the quality manager; the record is kept on this phone.";
}

/**
 * The name of a word, or the word itself where the app has no name for it.
 * @param {Record<string, string>} names
 * @param {string | null | undefined} word
 */
export function named(names, word) {
  return word ? (names[word] ?? word) : "";
}
