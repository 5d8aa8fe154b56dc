/** A critical finding: one big clear step. Works without signal and does not wait for the server. */

import { html } from "../lib/html.js";
import { unitOf } from "../lib/state.js";
import { typeOf, zoneOf, zoneWords } from "../lib/plant.js";
import { caution, noUnit } from "./parts.js";

/** @import {Screen} from "../lib/shapes" */

/** @type {Screen} */
export const stopScreen = {
  path: "unit/:chassis/stop/:defect",
  page(context) {
    const { app, params, address } = context;
    const unit = unitOf(app, params.chassis);
    const defect = unit?.defects.find((each) => each.id === params.defect);
    if (!unit || !defect || !app.plant) return noUnit(context);
    const type = typeOf(app.plant, defect.type);
    const zone = zoneOf(app.plant, unit.model, defect.zone);
    const gas = zone?.caution === "GAS" || type?.group === "GAS";
    return {
      title: "Stop, tag, tell",
      body: html`<p class="value">${type?.name ?? defect.type}</p>
        <p>${unit.shop_number} · ${zoneWords(app.plant, unit.model, defect.zone)}</p>
        <ol class="steps"><li><strong>Stop</strong> work on this unit. It stays where it stands.</li>
          <li><strong>Tag</strong> it so that nobody uses or moves it.</li>
          <li><strong>Tell</strong> the lead now, and check the units beside it.</li></ol>
        ${gas ? html`<p class="warning">Move away from the unit before you use a phone to call.</p>` : ""}
        ${gas ? caution(context, "GAS", { always: true }) : type?.group === "MNS" ? caution(context, "ELE", { always: true }) : zone?.caution ? caution(context, zone.caution, { always: true }) : ""}`,
      actions: html`${app.plant.stop_phone ? html`<a class="button main stop" href="tel:${app.plant.stop_phone}">Call the lead: ${app.plant.stop_phone}</a>`
          : html`<p class="strong">The plant has named no number to call: go to the lead.</p>`}
        <a class="button" href="${address("unit", unit.chassis, "walk", zone?.view ?? "")}">Stopped, tagged, told: go on</a>`,
    };
  },
};
