/** End of the inspection: what was not looked at yet stands here by name before anybody ends it. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { inspectionInHand, lookOf, openList } from "../lib/fold.js";
import { save, unitOf } from "../lib/state.js";
import { shortName, viewsOf, wholeUnitZone, zonesOf } from "../lib/plant.js";
import { NOT_LOOKED, named } from "../lib/words.js";
import { choices, counts, noUnit, shape } from "./parts.js";

/** @import {Context, Screen, UnitView, View, Zone} from "../lib/shapes" */

/** @type {Screen} */
export const endScreen = {
  path: "unit/:chassis/end",
  live: true,
  page(context) {
    const here = place(context);
    if (!here) return noUnit(context);
    const { address, view } = context;
    const { unit, inspection, plant, looks } = here;
    const none = looks.filter((each) => each.look.state === "none");
    const not = looks.filter((each) => each.look.state === "not");
    const whole = wholeUnitZone(plant, unit.model);
    return {
      title: `End at ${inspection.point} · ${unit.shop_number}`,
      body: html`<p class="value">${looks.length - none.length - not.length} of ${looks.length} zones looked at</p>
        ${counts(openList(unit).filter((defect) => defect.inspection === inspection.id))}
        ${none.length ? html`<h2>Not looked at yet: ${none.length}</h2>${viewsOf(plant, unit.model).map((each) => viewPart(context, unit, each, none, view))}` : html`<p class="strong">${shape("looked")} Every zone is looked at or has its reason.</p>`}
        ${not.length ? html`<h2>Not looked at, with reason: ${not.length}</h2><ul class="list">${not.map(({ zone, look }) => html`<li class="plain">${shape("not")} ${zone.name}: ${named(NOT_LOOKED, look.reason).toLowerCase()}</li>`)}</ul><p>They block the release until somebody looks at them safely.</p>` : ""}
        ${whole ? html`<a class="button" href="${address("unit", unit.chassis, "zone", whole.key)}">Keys, papers, options of the whole unit</a>` : ""}`,
      actions: html`<button type="button" class="main" data-act="end">${none.length ? `End with ${none.length} zones not looked at` : "End inspection"}</button>
        <a class="button" href="${address("unit", unit.chassis, "walk", (none[0]?.zone ?? looks[0].zone).view)}">Back to the walk</a>`,
    };
  },
  acts: {
    async end(context) {
      const here = place(context);
      if (!here) return;
      const { app, sync, say, go } = context;
      const open = app.drafts.find((draft) => draft.unit === here.unit.chassis);
      if (open) return say({ text: "A defect of this unit is not saved yet. Save it or drop it first.", shape: "not_saved" });
      await save(app, [fact("inspection_ended", here.unit.chassis, { inspection: here.inspection.id }, { deps: [here.inspection.id] })]);
      sync("inspection ended");
      say({ text: `Saved on phone: inspection at ${here.inspection.point} ended`, shape: "saved" });
      go("unit", here.unit.chassis);
    },
    why({ view, redraw }, element) {
      view.why = view.why === element.dataset.value ? "" : element.dataset.value;
      redraw();
    },
    reason(context, element) {
      const zones = context.view.why;
      context.view.why = "";
      return notLooked(context, zones, element.dataset.value ?? "other");
    },
  },
};

/** @param {Context} context */
function place({ app, params, session }) {
  const unit = unitOf(app, params.chassis);
  const inspection = unit && inspectionInHand(unit, session?.person.code ?? "");
  if (!unit || !inspection || !app.plant) return null;
  const looks = zonesOf(app.plant, unit.model).map((zone) => ({ zone, look: lookOf(unit, inspection, zone.key) }));
  return { unit, inspection, plant: app.plant, looks };
}

/**
 * One view's zones that nobody has spoken of, with the way there and the reasons for leaving them all.
 * @param {Context} context
 * @param {UnitView} unit
 * @param {View} each
 * @param {{zone: Zone}[]} none
 * @param {Record<string, any>} view
 */
function viewPart({ address, app }, unit, each, none, view) {
  const zones = none.filter(({ zone }) => zone.view === each.id);
  if (!zones.length) return "";
  return html`<section class="card" aria-label="${each.name}"><h3>${shortName(each)}: ${zones.length}</h3>
    <p>${zones.map(({ zone }) => zone.name).join("; ")}</p>
    <div class="pair"><a class="button" href="${address("unit", unit.chassis, "walk", each.id)}">Look now</a>
      <button type="button" data-act="why" data-value="${each.id}" aria-expanded="${view.why === each.id ? "true" : "false"}">Not looked at</button></div>
    ${view.why === each.id ? choices("reason", `Why ${each.name} is not looked at`, (app.plant?.not_looked_reasons ?? []).map((code) => [code, named(NOT_LOOKED, code)]), "") : ""}
  </section>`;
}

/**
 * @param {Context} context
 * @param {string} viewId
 * @param {string} reason
 */
async function notLooked(context, viewId, reason) {
  const here = place(context);
  if (!here) return;
  const { unit, inspection, looks } = here;
  const zones = looks.filter(({ zone, look }) => zone.view === viewId && look.state === "none");
  await save(context.app, zones.map(({ zone }) =>
    fact("zone_not_looked_at", unit.chassis, { inspection: inspection.id, zone: zone.key, reason }, { deps: [inspection.id] }),
  ));
  context.sync("not looked at");
  context.say({ text: `Saved on phone: ${zones.length} zones not looked at, ${named(NOT_LOOKED, reason).toLowerCase()}`, shape: "saved" });
  context.redraw();
}
