/** The units in work: what is open on each, and in whose hands it is. */

import { html } from "../lib/html.js";
import { inHandBy, openList } from "../lib/fold.js";
import { refusedOf, unitsShown } from "../lib/state.js";
import { UNIT_STATE, named } from "../lib/words.js";
import { draftRow } from "./drafts.js";
import { counts, shape, syncMark } from "./parts.js";

/** @import {Context, Screen, UnitView} from "../lib/shapes" */

const MOST = 40;
const ORDER = ["at_end_points", "in_rework", "on_line", "planned", "released"];

/** @type {Screen} */
export const unitsScreen = {
  path: "units",
  live: true,
  page(context) {
    const { app, address } = context;
    const units = inOrder(context);
    return {
      title: "Units in work",
      body: html`${app.plant?.demo ? html`<p class="demo">Demo limits, not for use</p>` : ""}${app.drafts.map((draft) => draftRow(context, draft))}
        ${units.length ? "" : html`<p>No unit is on this phone. Sync where there is signal.</p>`}
        <ul class="list">${units.slice(0, MOST).map((unit) => unitRow(context, unit))}</ul>
        ${units.length > MOST ? html`<p>${units.length - MOST} more. Find them by their number.</p>` : ""}`,
      actions: html`<a class="button main" href="${address("find")}">Find a unit</a>
        <div class="pair"><a class="button" href="${address("outbox")}">Outbox</a><a class="button" href="${address("settings")}">Settings</a></div>`,
    };
  },
};

/** @param {Context} context */
function inOrder({ app, session }) {
  const mine = (/** @type {UnitView} */ unit) => (inHandBy(unit).includes(session?.person.code ?? "") ? 0 : 1);
  const stage = (/** @type {UnitView} */ unit) => ORDER.indexOf(unit.state);
  return unitsShown(app)
    .filter((unit) => (unit.state !== "released" && unit.state !== "planned") || unit.alarm)
    .sort((a, b) => mine(a) - mine(b) || (a.alarm ? 0 : 1) - (b.alarm ? 0 : 1) || stage(a) - stage(b) || a.sequence - b.sequence);
}

/**
 * @param {Context} context
 * @param {UnitView} unit
 */
function unitRow({ app, address }, unit) {
  const model = app.plant?.models.find((each) => each.code === unit.model);
  const hands = inHandBy(unit);
  const refused = refusedOf(app).filter(({ entry }) => entry.unit === unit.chassis).length;
  return html`<li><a class="row" href="${address("unit", unit.chassis)}">
    <span class="row-title unit-number">${unit.shop_number}</span>
    <span>${model?.name ?? unit.model}${unit.options.length ? ` · ${unit.options.join(", ")}` : ""}</span>
    <span class="strong">${named(UNIT_STATE, unit.state)}${hands.length ? ` · in hand by ${hands.join(", ")}` : ""}</span>
    ${counts(openList(unit))}
    ${refused ? html`<span>${syncMark("refused")}: ${refused}</span>` : ""}
    ${unit.alarm ? html`<span class="warning">${shape("not_saved")} Alarm: ${unit.alarm}</span>` : ""}
  </a></li>`;
}
