/** A critical finding's own step: stop, tag, tell. */

import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { cautionsFor, movesAway, typeOf, zoneOf, zoneWords } from "../lib/plant.js";
import { unitOf } from "../lib/state.js";
import { callButtons, caution, gone, toldWords } from "./parts.js";
import { whereDrawn } from "./where.js";

/** @import {Screen} from "../lib/shapes" */

/**
 * A critical finding: one big clear step. It works without signal and does not wait for the server.
 * @type {Screen}
 */
export const stopScreen = {
  path: "unit/:chassis/stop/:defect",
  page(context) {
    const { app, params, address } = context;
    const unit = unitOf(app, params.chassis);
    const defect = unit?.defects.find((each) => each.id === params.defect);
    if (!unit || !defect || !app.plant) return gone(context);
    const type = typeOf(app.plant, defect.type);
    const zone = zoneOf(app.plant, unit.model, defect.zone);
    const codes = cautionsFor(zone, type);
    return {
      title: t`Stop, tag, tell`,
      body: html`<p class="value">${type?.name ?? defect.type}</p>
        <p>${unit.shop_number} · ${zoneWords(app.plant, unit.model, defect.zone)}</p>
        <ol class="steps">
          <li><strong>Stop</strong> work on this unit. It stays where it stands.</li>
          <li><strong>Tag</strong> it so that nobody uses or moves it.</li>
          <li><strong>Tell</strong> ${toldWords(app.plant, codes)} now, and check the units beside it.</li>
        </ol>
        ${
          movesAway(app.plant, codes)
            ? html`<p class="warning">Move away from the unit before you use a phone to call.</p>`
            : ""
        }
        ${codes.map((code) => caution(context, code, { always: true }))} ${whereDrawn(app.plant, unit, defect)}`,
      actions: html`${callButtons(app.plant, codes)}
        <a class="button" href="${address("unit", unit.chassis, "walk", zone?.view ?? "")}"
          >Stopped, tagged, told: go on</a
        >`,
    };
  },
};
