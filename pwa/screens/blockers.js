/**
 * What stands in the way of a release, in words, each with its way there; and a walk of only the zones that are
 * missing.
 */

import { inspectionInHand, lookOf } from "../lib/fold.js";
import { html } from "../lib/html.js";
import { t, told as worded } from "../lib/language.js";
import { withShownNames } from "../lib/plant-names.js";
import { shortName, typeOf, viewsOf, zoneOf, zonesOf } from "../lib/plant.js";
import { unitOf } from "../lib/state.js";
import { markLooked } from "./looked.js";
import { gone, severityMark, shape } from "./parts.js";
import { whereDrawn } from "./where.js";

/** @import {Blocker, Context, Plant, Screen, UnitView, Zone} from "../lib/shapes" */

/**
 * Keys of the zones that the server names as not looked at, the plate too.
 * @param {UnitView} unit
 */
export function zonesMissing(unit) {
  return unit.blockers.filter((each) => ["zone", "identity"].includes(each.code) && each.ref).map((each) => each.ref);
}

/**
 * A zone by its side and name: "Nearside: Entry door".
 * @param {Plant} plant
 * @param {Zone} zone
 */
function sided(plant, zone) {
  const view = plant.views.find((each) => each.id === zone.view);
  return `${view ? shortName(view) : zone.view}: ${zone.name}`;
}

/**
 * What is said of a zone, without the name by which the server begins: the plant's own.
 * @param {Zone} zone
 * @param {string} what
 */
function withoutName({ name, own_name = name }, what) {
  return what.startsWith(`${own_name}: `) ? what.slice(own_name.length + 2) : what;
}

/**
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Blocker} blocker
 */
export function blockerRow(context, unit, blocker) {
  const { words, to } = told(context, unit, blocker);
  if (!to) return html`<li class="plain">${shape("refused")} ${words}</li>`;
  return html`<li>
    <a class="row" href="${context.address("unit", unit.chassis, ...to)}"
      ><span>${blocker.code === "defect" || blocker.code === "recheck" ? "" : shape("refused")} ${words}</span></a
    >
  </li>`;
}

/**
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Blocker} blocker
 * @returns {{words: unknown, to: string[] | null}}
 */
function told({ app }, unit, { code, what, ref }) {
  const plant = app.plant;
  const zone = plant && zoneOf(plant, unit.model, ref);
  if (plant && zone && code === "identity")
    return { words: t`${sided(plant, zone)}: the number is not read off the metal yet`, to: ["zone", zone.key] };
  if (plant && zone)
    return {
      words: `${sided(plant, zone)}: ${worded(withoutName(zone, what))}`,
      to: ["zone", zone.key],
    };
  const shown = worded(plant ? withShownNames(plant, what) : what);
  if (code === "test") return { words: shown, to: ["test", ref] };
  const defect = unit.defects.find((each) => each.id === ref);
  const at = plant && defect && zoneOf(plant, unit.model, defect.zone);
  if (plant && defect && at) {
    const type = typeOf(plant, defect.type)?.name ?? defect.type;
    const stands =
      { open: t`open`, repaired: t`repaired by ${defect.repaired_by ?? t`somebody`}, another looks again` }[
        defect.state.toString()
      ] ?? shown;
    return {
      words: html`${severityMark(defect.severity, plant, defect.grade)} ${type}, ${sided(plant, at)}: ${stands}`,
      to: ["defect", defect.id],
    };
  }
  if (code === "failure_untold") return { words: shown, to: ["tests"] };
  return { words: shown, to: null };
}

/** @type {Screen} */
export const missingScreen = {
  path: "unit/:chassis/missing",
  live: true,
  page(context) {
    const here = place(context);
    if (!here)
      return gone(context, t`The unit's release names no zone that is missing, or the server has not told it yet.`);
    const { unit, plant, left, inspection } = here;
    const { address } = context;
    const next = left[0];
    return {
      title: t`${unit.shop_number} missing`,
      body: next
        ? html`<p class="value">${sided(plant, next)}</p>
            ${whereDrawn(plant, unit, { zone: next.key, mark: null, severity: null, state: "open" })}
            <p>
              ${left.length === 1 ? t`The last one.` : t`${left.length} zones are missing. Then ${sided(plant, left[1])}.`}
            </p>
            <a class="button" href="${address("unit", unit.chassis, "zone", next.key)}">Something is wrong here</a>`
        : html`<p class="value">None is missing any more on this phone.</p>`,
      actions: html`${
          next
            ? inspection
              ? html`<button type="button" class="main" data-act="looked" data-value="${next.key}">
                  ${shape("looked")} Looked at, clean
                </button>`
              : html`<a class="button main" href="${address("unit", unit.chassis, "begin")}">Start inspection</a>`
            : html`<a class="button main" href="${address("unit", unit.chassis, "end")}">End</a>`
        } <a class="button" href="${address("unit", unit.chassis, "release")}">What blocks it</a>`,
    };
  },
  acts: {
    async looked(context, element) {
      const here = place(context);
      if (!here?.inspection) return;
      await markLooked(
        context,
        here.unit,
        here.inspection,
        here.left.filter((zone) => zone.key === element.dataset.value),
      );
      context.redraw();
    },
  },
};

/** @param {Context} context */
function place({ app, params, session }) {
  const unit = unitOf(app, params.chassis);
  if (!unit || !app.plant) return null;
  const { plant } = app;
  const inspection = inspectionInHand(unit, session?.person.code ?? "");
  const missing = zonesMissing(unit);
  if (!missing.length) return null;
  const walk = viewsOf(plant, unit).flatMap((view) => zonesOf(plant, unit, view.id));
  const left = walk.filter(
    (zone) => missing.includes(zone.key) && !(inspection && lookOf(unit, inspection, zone.key).state === "looked"),
  );
  return { unit, plant, inspection, left };
}
