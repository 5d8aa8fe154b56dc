/** The begin and the end of a look at a unit: where and in what light; and by name what was not looked at. */

import { fact } from "../lib/facts.js";
import { inspectionInHand, lookOf, openList } from "../lib/fold.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { detectionPoints, ownPoint, placeWords, shortName, viewsOf, wholeUnitZone, zonesOf } from "../lib/plant.js";
import { save, unitOf } from "../lib/state.js";
import { LIGHT, NOT_LOOKED, PURPOSE, WEATHER, named, within } from "../lib/words.js";
import { ownDrafts } from "./drafts.js";
import { cautionsShown, choices, chosen, counts, gone, identity, noUnit, shape } from "./parts.js";

/** @import {Context, Screen, UnitView, View, Zone} from "../lib/shapes" */

/** @type {Screen} */
export const beginScreen = {
  path: "unit/:chassis/begin",
  page(context) {
    const { app, params, view, address, may } = context;
    const unit = unitOf(app, params.chassis);
    if (!unit || !app.plant) return noUnit(context);
    if (!may("inspection_begun")) return gone(context, t`Your role begins no inspection here.`);
    view.point ??= usualPoint(context);
    const before = presentedAt(unit, view.point);
    const purpose = view.purpose || (before ? "" : "presentation");
    view.light ??= "";
    view.weather ??= "";
    const purposes = app.plant.purposes ?? Object.keys(PURPOSE).slice(0, 3);
    const lacks = view.light ? (purpose ? "" : t`Choose what for`) : t`Choose the light first`;
    const points = detectionPoints(app.plant, context.now()).map(
      (each) => /** @type {[string, string]} */ ([each.id, `${each.id} ${each.name}`]),
    );
    return {
      title: t`Start inspection`,
      body: html`${identity(app, unit)} ${cautionsShown(context, "begin")}
        <h2>Light</h2>
        ${choices("light", t`Light`, withNames(app.plant.lights, LIGHT), view.light)}
        <h2>Weather (optional)</h2>
        ${choices("weather", t`Weather`, [["", t`Not noted`], ...withNames(app.plant.weathers, WEATHER)], view.weather)}
        <h2>Point</h2>
        ${choices("point", t`Point`, points, view.point)}
        <h2>What for</h2>
        ${
          before
            ? html`<p class="strong">
                ${before.inspector} has shown this unit at ${placeWords(app.plant, view.point)} before. Only a whole
                look is a presentation; a zone again, as after a repair, is not.
              </p>`
            : ""
        }
        ${choices("purpose", t`What for`, withNames(purposes, PURPOSE), purpose)}`,
      actions: html`<button type="button" class="main" data-act="begin">
          ${lacks || t`The metal says ${unit.shop_number}: begin`}
        </button>
        <a class="button" href="${address("unit", unit.chassis)}">Back</a>`,
    };
  },
  acts: {
    light: chosen("light"),
    weather: chosen("weather"),
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
function usualPoint({ app, session, now }) {
  const points = app.plant ? detectionPoints(app.plant, now()) : [];
  const own = app.plant && session ? ownPoint(app.plant, session.person, [], now()) : "";
  return (
    (
      points.find((point) => point.id === own) ??
      points.find((point) => point.kind === "inspection" && point.final !== false) ??
      points[0]
    )?.id ?? ""
  );
}

/**
 * The last presentation at a point that has ended.
 * @param {UnitView} unit
 * @param {string} point
 */
function presentedAt(unit, point) {
  return unit.inspections.findLast(
    (each) => each.point === point && each.purpose === "presentation" && each.ended_ms !== null,
  );
}

/** @param {Context} context */
async function begin(context) {
  const { app, params, view, session, replace, say, sync, may_record } = context;
  const unit = unitOf(app, params.chassis);
  if (!unit || !app.plant) return;
  if (!view.light) return say({ text: t`Choose the light: it is part of the record.` });
  if (!may_record) return say({ text: t`Read only. See Settings, install guide.` });
  const { point, light, weather } = view;
  const purpose = view.purpose || (presentedAt(unit, point) ? "" : "presentation");
  if (!purpose) return say({ text: t`Choose what for: only a whole look is a presentation.` });
  if (inspectionInHand(unit, session?.person.code ?? ""))
    return say({ text: t`An inspection of yours is open on this unit. End it first.` });
  await save(app, [fact("inspection_begun", unit.chassis, { point, purpose, light, weather })]);
  sync("inspection begun");
  const test = app.plant.stations.find((station) => station.id === point)?.kind === "test";
  if (test) replace("unit", unit.chassis, "tests");
  else replace("unit", unit.chassis, "walk", viewsOf(app.plant, unit)[0].id);
}

/** @type {Screen} */
export const endScreen = {
  path: "unit/:chassis/end",
  live: true,
  page(context) {
    const here = place(context);
    if (!here) return gone(context, t`No inspection of yours is open on this unit.`);
    const { address, view } = context;
    const { unit, inspection, plant, looks } = here;
    // A look at single zones speaks of those only.
    const none = inspection.purpose === "zones" ? [] : looks.filter((each) => each.look.state === "none");
    const not = looks.filter((each) => each.look.state === "not");
    const looked = looks.filter((each) => each.look.state === "looked").length;
    const whole = wholeUnitZone(plant, unit);
    return {
      title: t`End inspection · ${unit.shop_number}`,
      body: html`<p>${placeWords(plant, inspection.point)}</p>
        <p class="value">${looked} of ${looks.length} zones looked at</p>
        ${counts(openList(unit).filter((defect) => defect.inspection === inspection.id))}
        ${
          none.length
            ? html`<h2>Not looked at yet: ${none.length}</h2>
                ${viewsOf(plant, unit).map((each) => viewPart(context, unit, each, none, view))}`
            : html`<p class="strong">
                ${shape("looked")}
                ${inspection.purpose === "zones" ? t`A look at single zones: it is no presentation.` : t`Every zone is looked at or has its reason.`}
              </p>`
        }
        ${
          not.length
            ? html`<h2>Not looked at, with reason: ${not.length}</h2>
                <ul class="list">
                  ${not.map(
                    ({ zone, look }) =>
                      html`<li class="plain">
                        ${shape("not")} ${zone.name}: ${within(named(NOT_LOOKED, look.reason))}
                      </li>`,
                  )}
                </ul>
                <p>They block the release until somebody looks at them safely.</p>`
            : ""
        }
        ${
          whole
            ? html`<a class="button" href="${address("unit", unit.chassis, "zone", whole.key)}"
                >Keys, papers, options of the whole unit</a
              >`
            : ""
        }`,
      actions: html`<button type="button" class="main" data-act="end">
          ${none.length ? t`End with ${none.length} zones not looked at` : t`End inspection`}
        </button>
        <a class="button" href="${address("unit", unit.chassis, "walk", (none[0]?.zone ?? looks[0].zone).view)}"
          >Back to the walk</a
        >`,
    };
  },
  acts: {
    async end(context) {
      const here = place(context);
      if (!here) return;
      const { app, sync, say, replace } = context;
      const open = ownDrafts(context).find((draft) => draft.unit === here.unit.chassis);
      if (open)
        return say({ text: t`A defect of this unit is not saved yet. Save it or drop it first.`, shape: "not_saved" });
      await save(app, [
        fact("inspection_ended", here.unit.chassis, { inspection: here.inspection.id }, { deps: [here.inspection.id] }),
      ]);
      sync("inspection ended");
      say({
        text: t`Saved on phone: inspection at ${placeWords(app.plant, here.inspection.point)} ended`,
        shape: "saved",
      });
      replace("unit", here.unit.chassis);
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
  const looks = zonesOf(app.plant, unit).map((zone) => ({ zone, look: lookOf(unit, inspection, zone.key) }));
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
  return html`<section class="card" aria-label="${each.name}">
    <h3>${shortName(each)}: ${zones.length}</h3>
    <p>${zones.map(({ zone }) => zone.name).join("; ")}</p>
    <div class="pair">
      <a class="button" href="${address("unit", unit.chassis, "walk", each.id)}">Look now</a>
      <button
        type="button"
        data-act="why"
        data-value="${each.id}"
        aria-expanded="${view.why === each.id ? "true" : "false"}"
      >
        Not looked at
      </button>
    </div>
    ${
      view.why === each.id
        ? choices(
            "reason",
            t`Why ${each.name} is not looked at`,
            (app.plant?.not_looked_reasons ?? []).map((code) => [code, named(NOT_LOOKED, code)]),
            "",
          )
        : ""
    }
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
  await save(
    context.app,
    zones.map(({ zone }) =>
      fact(
        "zone_not_looked_at",
        unit.chassis,
        { inspection: inspection.id, zone: zone.key, reason },
        { deps: [inspection.id] },
      ),
    ),
  );
  context.sync("not looked at");
  context.say({
    text: t`Saved on phone: ${zones.length} zones not looked at, ${within(named(NOT_LOOKED, reason))}`,
    shape: "saved",
  });
  context.redraw();
}
