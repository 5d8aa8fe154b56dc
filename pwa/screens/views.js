/**
 * The unit's views in walk order with how far each is looked at; the end of the inspection; and, smallest, a view's
 * rest.
 */

import { inspectionInHand, lookOf, openList } from "../lib/fold.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { shortName, viewsOf, zonesOf } from "../lib/plant.js";
import { setSettings, unitOf } from "../lib/state.js";
import { noUnit, shape } from "./parts.js";

/** @import {Context, Screen, UnitView, View} from "../lib/shapes" */

/** @type {Screen} */
export const viewsScreen = {
  path: "unit/:chassis/views/:view",
  live: true,
  page(context) {
    const { app, params, address, session } = context;
    const unit = unitOf(app, params.chassis);
    if (!unit || !app.plant) return noUnit(context);
    const to = (/** @type {string[]} */ ...parts) => address("unit", unit.chassis, ...parts);
    const inspection = inspectionInHand(unit, session?.person.code ?? "");
    const views = viewsOf(app.plant, unit);
    const here = views.find((each) => each.id === params.view);
    const rest =
      inspection && inspection.purpose !== "zones" && here
        ? zonesOf(app.plant, unit, here.id).filter((zone) => lookOf(unit, inspection, zone.key).state === "none").length
        : 0;
    const list = app.settings.zones_as === "list";
    return {
      title: t`${unit.shop_number} views`,
      body: html`<ul class="list">
          ${views.map((each) => viewRow(context, unit, each))}
        </ul>
        <div class="pair">
          <button type="button" data-act="shown" data-value="${list ? "drawing" : "list"}">
            ${list ? t`Drawing` : t`List`}
          </button>
          <a class="button" href="${to()}">Unit</a>
        </div>
        ${
          here && rest
            ? html`<p class="rest">
                <a class="button" href="${to("rest", here.id)}">Rest of ${shortName(here)} (${rest})</a>
              </p>`
            : ""
        }`,
      actions: html`<div class="pair">
        <a class="button" href="${to("walk", params.view)}">Back</a
        >${inspection ? html`<a class="button" href="${to("end")}">End</a>` : ""}
      </div>`,
    };
  },
  acts: {
    async shown({ app, params, go }, element) {
      await setSettings(app, { zones_as: element.dataset.value === "list" ? "list" : "drawing" });
      go("unit", params.chassis, "walk", params.view);
    },
  },
};

/**
 * @param {Context} context
 * @param {UnitView} unit
 * @param {View} view
 */
function viewRow({ app, params, address, session }, unit, view) {
  const inspection = inspectionInHand(unit, session?.person.code ?? "");
  const zones = app.plant ? zonesOf(app.plant, unit, view.id) : [];
  const looked = inspection ? zones.filter((zone) => lookOf(unit, inspection, zone.key).state === "looked").length : 0;
  const open = openList(unit).filter((defect) => zones.some((zone) => zone.key === defect.zone)).length;
  const words = [inspection ? t`${looked} of ${zones.length} looked at` : "", open ? t`${open} open` : ""]
    .filter(Boolean)
    .join(", ");
  return html`<li>
    <a
      class="row view-row"
      href="${address("unit", unit.chassis, "walk", view.id)}"
      ${view.id === params.view ? html`aria-current="true"` : ""}
    >
      <span class="row-title"
        >${inspection ? shape(looked === zones.length ? "looked" : "none") : ""} ${shortName(view)}</span
      ><span>${words}</span></a
    >
  </li>`;
}
