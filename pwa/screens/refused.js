/** What the server did not take into effect, told where the work is: the reason, and the way out. */

import { html } from "../lib/html.js";
import { whatToDo } from "../lib/advice.js";
import { settle } from "../lib/outbox.js";
import { typeOf } from "../lib/plant.js";
import { refusedOf, reloadOwn } from "../lib/state.js";
import { KIND, named } from "../lib/words.js";
import { syncMark } from "./parts.js";
import { draftFrom } from "./draft.js";

/** @import {Act, App, Context, Entry, Verdict} from "../lib/shapes" */

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
  return html`<section class="refusals" aria-label="Refused"><h2>${syncMark("refused")}: ${refused.length}</h2>
    <ul class="list">${refused.map((each) => card(context, each))}</ul></section>`;
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
  return html`<li class="card"><p class="strong">${entryWords(context.app, entry)}</p>
    <p>${verdict.reason || verdict.code}</p><p>${whatToDo(verdict)}</p>
    <div class="pair">${way}<button type="button" data-act="understood" data-value="${entry.seq}">Read and settled</button></div></li>`;
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
        : to("Record it anew", "zone", op.body.zone);
    case "defect_corrected":
      return isHere ? to("Correct again", "correct", defect) : "";
    case "repair_done":
      return isHere ? to("Repair again", "repair", defect) : "";
    case "test_recorded":
      return to("Test again", "test", op.body.test);
    case "unit_released":
      return to("What blocks it", "release");
    case "inspection_begun":
      return to("Begin again", "begin");
    default:
      return isHere ? to("The defect", "defect", defect) : to("The unit");
  }
}

/** @type {Record<string, Act>} */
export const refusedActs = {
  async understood({ app, say, redraw }, element) {
    await settle(app.db, Number(element.dataset.value), "read by the person on this phone");
    await reloadOwn(app);
    say({ text: "Settled here. The record and the refusal are kept." });
    redraw();
  },
  again(context, element) {
    const entry = context.app.entries.find((each) => each.seq === Number(element.dataset.value));
    return entry ? draftFrom(context, entry) : undefined;
  },
};
