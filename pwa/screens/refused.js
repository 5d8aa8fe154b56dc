/** What the server did not take into effect, told where the work is: the reason, and the way out. */

import { html } from "../lib/html.js";
import { inWords, t, told } from "../lib/language.js";
import { settle } from "../lib/outbox.js";
import { typeOf } from "../lib/plant.js";
import { refusedOf, reloadOwn } from "../lib/state.js";
import { KIND, named } from "../lib/words.js";
import { syncMark } from "./parts.js";
import { draftFrom } from "./draft.js";

/** @import {Act, App, Context, Entry, Verdict} from "../lib/shapes" */

/** @type {Record<string, string>} */
const REFUSED = inWords({
  unknown_code: "The plant's list has changed. Sync, then record it again with a code of the present list.",
  wrong_severity: "The plant's list has changed. Sync, then record it again with a code of the present list.",
  model_differs: "The record has another model. Read the number and the plate again; tell the planner.",
  wrong_chassis: "That number cannot be this unit's. Read the metal again; if it is right, tell the planner.",
  unknown_unit: "The server does not know this unit. Check the chassis number on the metal and tell the planner.",
  not_your_role: "Your role may not record this. Ask someone who may.",
  not_upstream: "That place is not upstream of where it was found. Choose another or leave it open.",
  same_person: "Who repaired it cannot accept it. Another person must re-check.",
  not_repaired: "It is not marked repaired. Mark the repair first.",
  already_withdrawn: "It was withdrawn before. Nothing more to do here.",
  only_manager_lowers_critical: "Only the quality manager lowers a critical. Ask the quality manager.",
  reason_needed: "A reason is needed. Record it again with the reason.",
  implausible_value:
    "The value lies outside what is plausible. Read again; if it is right, enter it again and confirm it.",
  release_blocked: "Something blocks the release. Open the unit's release page: it lists what.",
  sign_off_stale: "The open list changed after you saw it. Read it again, then sign again.",
  inspection_ended: "That inspection had ended. Begin a new look at the unit and record it there.",
  already_released: "The unit was released before this arrived. Tell the quality manager.",
  depends_on_refused: "It rests on a record that was refused. Settle that one first.",
  unverified_author:
    "The server could not tell who recorded this. It is kept there without effect until the quality manager looks at it.",
  unproved_signature:
    "Nothing proves that the PIN was given for this signature. It is kept there without effect: sign anew.",
  device_revoked:
    "This phone was taken out of use. The record is kept at the server without effect: tell the administrator.",
  from_future:
    "This phone's clock is far ahead. The record is kept at the server without effect: set the clock, tell the administrator.",
  late: "It arrived more than 60 days late. It is kept at the server without effect: tell the quality manager.",
  id_reused: "The server holds another record under this identity. Export the file and tell the administrator.",
});

/**
 * What a person can do about a record that the server did not take into effect.
 * @param {{code: string, reason: string}} verdict
 */
export function whatToDo(verdict) {
  return REFUSED[verdict.code]
    ? t(REFUSED[verdict.code])
    : t`Show this to the quality manager; the record is kept on this phone.`;
}

/**
 * @param {App} app
 * @param {Entry} entry
 */
export function entryWords(app, entry) {
  const unit = app.units.get(entry.unit ?? "")?.shop_number ?? entry.unit ?? "";
  const type = entry.kind === "defect_recorded" && app.plant ? typeOf(app.plant, entry.op.body.type)?.name : "";
  return `${entry.seq}. ${named(KIND, entry.kind)}${type ? `: ${type}` : ""}, ${unit}, ${entry.op.author}`;
}

/**
 * Refusals as cards; nothing where there are none.
 * @param {Context} context
 * @param {(entry: Entry) => boolean} [which]
 */
export function refusedCards(context, which = () => true) {
  const refused = refusedOf(context.app).filter(({ entry }) => which(entry));
  if (!refused.length) return html``;
  return html`<section class="refusals" aria-label="Refused">
    <h2>${syncMark("refused")}: ${refused.length}</h2>
    <ul class="list">
      ${refused.map((each) => card(context, each))}
    </ul>
  </section>`;
}

/**
 * Whether an entry speaks of a defect: its record, or what was done to it.
 * @param {string} defect
 * @returns {(entry: Entry) => boolean}
 */
export function about(defect) {
  return ({ id, op }) => id === defect || op.body.defect === defect || (op.body.defects ?? []).includes(defect);
}

/**
 * @param {Context} context
 * @param {{entry: Entry, verdict: Verdict}} refused
 */
function card(context, { entry, verdict }) {
  const way = wayOut(context, entry);
  return html`<li class="card">
    <p class="strong">${entryWords(context.app, entry)}</p>
    <p>${told(verdict.reason) || verdict.code}</p>
    <p>${whatToDo(verdict)}</p>
    <div class="pair">
      ${way}<button type="button" data-act="understood" data-value="${entry.seq}">Read and settled</button>
    </div>
  </li>`;
}

/**
 * Where the same thing can be said again, put right.
 * @param {Context} context
 * @param {Entry} entry
 */
function wayOut({ app, address, may }, { seq, kind, unit, op }) {
  const held = unit && app.units.get(unit);
  if (!held || !app.plant || !may(kind)) return "";
  const to = (/** @type {string} */ words, /** @type {string[]} */ ...parts) =>
    html`<a class="button main" href="${address("unit", unit, ...parts)}">${words}</a>`;
  const defect = op.body.defect ?? op.body.defects?.[0];
  const isHere = held.defects.some((each) => each.id === defect);
  switch (kind) {
    case "defect_recorded":
      return typeOf(app.plant, op.body.type)
        ? html`<button type="button" class="main" data-act="again" data-value="${seq}">Correct and send again</button>`
        : to(t`Record it anew`, "zone", op.body.zone);
    case "defect_corrected":
      return isHere ? to(t`Correct again`, "correct", defect) : "";
    case "repair_done":
      return isHere ? to(t`Repair again`, "repair", defect) : "";
    case "test_recorded":
      return to(t`Test again`, "test", op.body.test);
    case "unit_released":
      return to(t`What blocks it`, "release");
    case "inspection_begun":
      return to(t`Begin again`, "begin");
    default:
      return isHere ? to(t`The defect`, "defect", defect) : to(t`The unit`);
  }
}

/** @type {Record<string, Act>} */
export const refusedActs = {
  async understood({ app, say, redraw }, element) {
    await settle(app.db, Number(element.dataset.value), "read by the person on this phone");
    await reloadOwn(app);
    say({ text: t`Settled here. The record and the refusal are kept.` });
    redraw();
  },
  again(context, element) {
    const entry = context.app.entries.find((each) => each.seq === Number(element.dataset.value));
    return entry ? draftFrom(context, entry) : undefined;
  },
};
