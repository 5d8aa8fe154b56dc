/** What a person can do about each reason for which the server did not take a record. */

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
