/** One zone touched: its likely types, or the zone is clean or could not be looked at. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { inView, typesForZone } from "../lib/likely.js";
import { inspectionInHand, openList } from "../lib/fold.js";
import { save, unitOf } from "../lib/state.js";
import { zoneOf, zoneWords } from "../lib/plant.js";
import { NOT_LOOKED, named, within } from "../lib/words.js";
import { caution, choices, defectRow, noUnit, shape, toggled } from "./parts.js";
import { startDraft } from "./draft.js";
import { markLooked } from "./looked.js";

/** @import {Context, Screen, Type} from "../lib/shapes" */

/** @type {Screen} */
export const zoneScreen = {
  path: "unit/:chassis/zone/:zone",
  page(context) {
    const { app, params, view, address } = context;
    const unit = unitOf(app, params.chassis);
    const zone = unit && app.plant && zoneOf(app.plant, unit.model, params.zone);
    if (!unit || !app.plant || !zone) return noUnit(context);
    const types = inView(typesForZone(app.plant, zone, app.history));
    const here = openList(unit).filter((defect) => defect.zone === zone.key);
    const inspection = inspectionInHand(unit, context.session?.person.code ?? "");
    return {
      title: zoneWords(app.plant, unit.model, zone.key),
      short: t`Zone`,
      body: html`${zone.caution ? caution(context, zone.caution) : ""}
      ${
        here.length
          ? html`<details class="more">
              <summary>Already on the open list here: ${here.length}</summary>
              <ul class="list">
                ${here.map((defect) => defectRow(context, unit, defect))}
              </ul>
            </details>`
          : ""
      }
      ${
        view.why
          ? html`<h2>Not looked at, because</h2>
              ${choices(
                "reason",
                t`Why not looked at`,
                app.plant.not_looked_reasons.map((code) => [code, named(NOT_LOOKED, code)]),
                "",
              )}`
          : html`<div class="types" role="group" aria-label="Likely defects here">${types.map(typeButton)}</div>`
      }`,
      actions: html`<div class="pair">
          <a class="button" href="${address("unit", unit.chassis, "search", zone.key)}">Search all types</a>
          ${
            inspection
              ? html`<button type="button" data-act="why">${view.why ? t`Types` : t`Not looked at`}</button>`
              : ""
          }
        </div>
        ${
          inspection
            ? html`<button type="button" class="main" data-act="clean">
                ${here.length ? t`Zone looked at` : t`Looked at, clean`}
              </button>`
            : ""
        }
        <a class="button" href="${address("unit", unit.chassis, "walk", zone.view)}">Back to the drawing</a>`,
    };
  },
  acts: {
    type: (context, element) => startDraft(context, context.params.zone, element.dataset.value ?? ""),
    why: toggled("why"),
    clean: (context) => look(context, null),
    reason: (context, element) => look(context, element.dataset.value ?? "other"),
  },
};

/** @param {Type} type */
export function typeButton(type) {
  return html`<button
    type="button"
    class="type"
    data-act="type"
    data-value="${type.code}"
    data-severity="${type.severity}"
  >
    ${shape(type.severity)}<span>${type.name}</span>
  </button>`;
}

/**
 * @param {Context} context
 * @param {string | null} reason  why not looked at, null for looked at
 */
async function look(context, reason) {
  const { app, params, session, say, sync, go } = context;
  const unit = unitOf(app, params.chassis);
  const inspection = unit && inspectionInHand(unit, session?.person.code ?? "");
  const zone = unit && app.plant && zoneOf(app.plant, unit.model, params.zone);
  if (!unit || !zone) return;
  if (!inspection) return say({ text: t`No inspection of yours is open on this unit. Start one first.` });
  if (reason) {
    await save(app, [
      fact(
        "zone_not_looked_at",
        unit.chassis,
        { inspection: inspection.id, zone: zone.key, reason },
        { deps: [inspection.id] },
      ),
    ]);
    sync("not looked at");
    say({
      text: t`Saved on phone: ${zone.name} not looked at, ${within(named(NOT_LOOKED, reason))}`,
      shape: "saved",
    });
  } else {
    await markLooked(context, unit, inspection, [zone]);
  }
  go("unit", unit.chassis, "walk", zone.view);
}
