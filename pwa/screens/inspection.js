/** The begin and the end of a look at a unit: where and in what light; and by name what was not looked at. */

import { fact } from "../lib/facts.js";
import { inspectionInHand, lookOf, openList } from "../lib/fold.js";
import { html } from "../lib/html.js";
import { detectionPoints, shortName, viewsOf, wholeUnitZone, zonesOf } from "../lib/plant.js";
import { save, unitOf } from "../lib/state.js";
import { LIGHT, NOT_LOOKED, PURPOSE, WEATHER, named } from "../lib/words.js";
import { caution, choices, chosen, counts, identity, noUnit, shape } from "./parts.js";

/** @import {Context, Screen, UnitView, View, Zone} from "../lib/shapes" */

/** @type {Record<string, string>} */
const USUAL_KIND = { inspector: "inspection", tester: "test" };

/** @type {Screen} */
export const beginScreen = {
  path: "unit/:chassis/begin",
  page(context) {
    const { app, params, view, address } = context;
    const unit = unitOf(app, params.chassis);
    if (!unit || !app.plant) return noUnit(context);
    view.point ??= usualPoint(context);
    view.purpose ??= "presentation";
    view.light ??= "";
    view.weather ??= "";
    const points = detectionPoints(app.plant).map((each) => /** @type {[string, string]} */ ([each.id, `${each.id} ${each.name}`]));
    return {
      title: "Start inspection",
      body: html`${identity(app, unit)}
        ${caution(context, "MOV")}${caution(context, "SUN")}
        <h2>Light</h2>${choices("light", "Light", withNames(app.plant.lights, LIGHT), view.light)}
        <h2>Weather (optional)</h2>${choices("weather", "Weather", withNames(app.plant.weathers, WEATHER), view.weather)}
        <h2>Point</h2>${choices("point", "Point", points, view.point)}
        <h2>What for</h2>${choices("purpose", "What for", withNames(Object.keys(PURPOSE), PURPOSE), view.purpose)}`,
      actions: html`<button type="button" class="main" data-act="begin">${view.light ? `The metal says ${unit.shop_number}: begin` : "Choose the light first"}</button>
        <a class="button" href="${address("unit", unit.chassis)}">Back</a>`,
    };
  },
  acts: {
    light: chosen("light"),
    weather({ view, redraw }, element) {
      view.weather = view.weather === element.dataset.value ? "" : element.dataset.value;
      redraw();
    },
    point: chosen("point"),
    purpose: chosen("purpose"),
    begin,
  },
};

/**
 * @param {string[]} codes
 * @param {Record<string, string>} names
 * @returns {[string, string][]}
 */
function withNames(codes, names) {
  return codes.map((code) => [code, named(names, code)]);
}

/** @param {Context} context */
function usualPoint({ app, session }) {
  const points = app.plant ? detectionPoints(app.plant) : [];
  const own = points.find((point) => session?.person.stations.includes(point.id));
  const usual = points.find((point) => point.kind === USUAL_KIND[session?.person.role ?? ""]);
  return (own ?? usual ?? points.find((point) => point.kind === "inspection") ?? points[0])?.id ?? "";
}

/** @param {Context} context */
async function begin(context) {
  const { app, params, view, replace, say, sync, may_record } = context;
  const unit = unitOf(app, params.chassis);
  if (!unit || !app.plant) return;
  if (!view.light) return say({ text: "Choose the light: it is part of the record." });
  if (!may_record) return say({ text: "Read only. See Settings, install guide." });
  const { point, purpose, light, weather } = view;
  await save(app, [fact("inspection_begun", unit.chassis, { point, purpose, light, weather })]);
  sync("inspection begun");
  const test = app.plant.stations.find((station) => station.id === point)?.kind === "test";
  if (test) replace("unit", unit.chassis, "tests");
  else replace("unit", unit.chassis, "walk", viewsOf(app.plant, unit.model)[0].id);
}

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
