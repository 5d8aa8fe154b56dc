/** One recorded defect: what it is, how it stands, who did what, and the next act of its life. */

import { html } from "../lib/html.js";
import { unitOf } from "../lib/state.js";
import { moment } from "../lib/clock.js";
import { typeOf, zoneOf, zoneWords } from "../lib/plant.js";
import { DEFECT_STATE, ORIGIN_STATE, named } from "../lib/words.js";
import { caution, noUnit, severityMark, syncMark, toggled } from "./parts.js";
import { photoButtons, photosOf, takePhoto } from "./photos.js";

/** @import {Context, Defect, Screen, UnitView} from "../lib/shapes" */

const REPAIRS = ["repairer", "tester", "inspector", "station_lead"];
const FINDS = ["inspector", "tester", "quality_manager", "station_lead", "repairer"];

/** @type {Screen} */
export const defectScreen = {
  path: "unit/:chassis/defect/:defect",
  live: true,
  page(context) {
    const { app, params, address, may_record } = context;
    const unit = unitOf(app, params.chassis);
    const defect = unit?.defects.find((each) => each.id === params.defect);
    const zone = unit && defect && app.plant && zoneOf(app.plant, unit.model, defect.zone);
    if (!unit || !defect || !app.plant || !zone) return noUnit(context);
    const standing = defect.state === "open" || defect.state === "repaired";
    return {
      title: typeOf(app.plant, defect.type)?.name ?? defect.type,
      body: html`<p class="value">${zoneWords(app.plant, unit.model, defect.zone)}</p>
        <p>${severityMark(defect.severity)} <span class="strong">${named(DEFECT_STATE, defect.state)}</span></p>
        <p>${syncMark(defect.local ?? "sent")}</p>
        <p>${unit.shop_number} · found by ${defect.finder} at ${defect.point}, ${moment(defect.found_ms, app.plant.time_zone)}</p>
        ${defect.note ? html`<p>Note: ${defect.note}</p>` : ""}
        ${defect.repaired_by ? html`<p>Repaired by ${defect.repaired_by}. Another person re-checks.</p>` : ""}
        ${defect.cycles ? html`<p class="strong">Failed re-check: ${defect.cycles}</p>` : ""}
        ${defect.changed_also_by.length ? html`<p class="strong">Also changed by ${defect.changed_also_by.join(", ")}: the last at the server is shown.</p>` : ""}
        <p>Origin: ${defect.confirmed ?? defect.suspected ?? "not named"} (${named(ORIGIN_STATE, defect.origin_state)})</p>
        ${zone.caution ? caution(context, zone.caution) : ""}
        ${photosOf(context, defect.id, defect.photos)}
        ${may_record && standing ? html`<h2>Add a photo</h2>${photoButtons(context, { unit: unit.chassis, defect: defect.id, zone })}
          <div class="groups"><a class="button" href="${address("unit", unit.chassis, "origin", defect.id)}">Suspected origin</a>
          <a class="button" href="${address("unit", unit.chassis, "correct", defect.id)}">Correct</a>
          <a class="button" href="${address("unit", unit.chassis, "withdraw", defect.id)}">Withdraw</a></div>` : ""}`,
      actions: html`${may_record ? nextAct(context, unit, defect) : ""}
        <a class="button" href="${address("unit", unit.chassis)}">Unit ${unit.shop_number}</a>`,
    };
  },
  acts: {
    nogas: toggled("no_gas"),
    async photo(context, element) {
      await takePhoto(context, element, { unit: context.params.chassis, defect: context.params.defect });
      context.sync("photo");
      context.redraw();
    },
  },
};

/**
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Defect} defect
 */
function nextAct({ session, address }, unit, defect) {
  const role = session?.person.role ?? "";
  if (defect.state === "open" && REPAIRS.includes(role)) {
    return html`<a class="button main" href="${address("unit", unit.chassis, "repair", defect.id)}">Repair done</a>`;
  }
  if (defect.state !== "repaired" || !FINDS.includes(role)) return "";
  if (defect.repaired_by === session?.person.code) return html`<p class="strong">You repaired it: another person must re-check it.</p>`;
  return html`<a class="button main" href="${address("unit", unit.chassis, "recheck", defect.id)}">Re-check</a>`;
}
