/**
 * The walk round: one view of the unit as a drawing or a list; touch what is wrong; mark what was looked at, one by
 * one.
 */

import { html } from "../lib/html.js";
import { inFront } from "../lib/front.js";
import { t } from "../lib/language.js";
import { oftenFound } from "../lib/likely.js";
import { inspectionInHand, lookOf, openList } from "../lib/fold.js";
import { unitOf } from "../lib/state.js";
import { outlinesOf, pictureOf, shortName, typeOf, viewsOf, zonesOf } from "../lib/plant.js";
import { markLooked } from "./looked.js";
import { caution, noUnit, shape } from "./parts.js";
import { markOf, showName, zoneDrawing, zoneList } from "./zone-map.js";
import { startDraft } from "./draft.js";

/** @import {App, Context, Look, Mark, Screen, Zone} from "../lib/shapes" */

const LONG = 40; // letters of a zone's name, from which on its key says it smaller

/** @type {Look} */
const NOT_YET = { state: "none", by: "", reason: "" };

/** @type {Screen} */
export const walkScreen = {
  path: "unit/:chassis/walk/:view",
  live: true,
  page(context) {
    const here = place(context);
    if (!here) return noUnit(context);
    const { app, view } = context;
    const cautions = sharedCautions(here.zones);
    const title = `${here.unit.shop_number} ${shortName(here.view)}`;
    view.new ??= cautions.filter((code) => !context.sees(code)).length > 0;
    if (cautions.length && (view.new || view.caution)) {
      return {
        title,
        // Not among the actions: the key that marks a zone comes there.
        body: html`${cautions.map((code) => caution(context, code, { always: true }))}<button
            type="button"
            class="main"
            data-act="read"
          >
            Read: to the drawing
          </button>`,
        actions: html`<a class="button" href="${context.address("unit", here.unit.chassis, "views", here.view.id)}"
          >Views</a
        >`,
      };
    }
    if (here.inspection) inFront(app.front, `${here.inspection.id} ${here.view.id}`, performance.now());
    const marks = marksOf(app, here);
    return {
      title,
      body: (room) =>
        app.settings.zones_as === "list"
          ? zoneList(marks, here.view)
          : zoneDrawing(
              marks,
              here.view,
              room,
              app.settings.targets,
              app.plant ? outlinesOf(app.plant, here.unit.model, here.view.id) : [],
              app.plant ? pictureOf(app.plant, here.unit.model, here.view.id) : undefined,
            ),
      strip: html`<p>${touchWords(app)}<br />${here.inspection ? progress(marks) : t`No inspection of yours`}</p>
        ${
          cautions.length
            ? html`<button type="button" class="caution-key" data-act="caution">${shape("not_saved")} Cautions</button>`
            : ""
        }`,
      actions: actions(context, here, marks),
    };
  },
  acts: {
    zone,
    name: (_, element) => showName(element),
    read({ view, redraw }) {
      view.new = view.caution = false;
      redraw();
    },
    caution({ view, redraw }) {
      view.caution = true;
      redraw();
    },
    once({ app, redraw }) {
      app.again = "";
      redraw();
    },
    looked(context, element) {
      const here = place(context);
      return here ? look(context, here, element.dataset.value ?? "") : undefined;
    },
  },
};

/**
 * @param {App} app
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @returns {Mark[]}
 */
function marksOf(app, { unit, inspection, zones }) {
  const open = openList(unit);
  const often = app.plant ? oftenFound(zonesOf(app.plant, unit), app.history) : new Set();
  const marks = zones.map((zone) => ({
    zone,
    look: inspection ? lookOf(unit, inspection, zone.key) : NOT_YET,
    defects: open.filter((defect) => defect.zone === zone.key),
    often: often.has(zone.key),
    next: false,
  }));
  const wanted =
    inspection?.purpose === "zones" ? marks.filter((mark) => mark.defects.length) : inspection ? marks : [];
  const first = wanted.find((mark) => mark.look.state === "none");
  return marks.map((mark) => (mark === first ? { ...mark, next: true } : mark));
}

/**
 * What a touch on a zone does now.
 * @param {App} app
 */
function touchWords(app) {
  if (app.again) return t`Touch: same again, ${app.plant && typeOf(app.plant, app.again)?.name}`;
  return t`Touch what is wrong.`;
}

/** @param {Mark[]} marks */
function progress(marks) {
  return t`${marks.filter((mark) => mark.look.state === "looked").length} of ${marks.length} looked at`;
}

/**
 * Cautions of the whole view: those that most of its zones carry, such as the roof's.
 * @param {Zone[]} zones
 */
function sharedCautions(zones) {
  const codes = [...new Set(zones.map((zone) => zone.caution).filter(Boolean))];
  return codes.filter((code) => zones.filter((zone) => zone.caution === code).length * 2 > zones.length);
}

/**
 * A person without an inspection sees the drawing too, and records single defects from it.
 * @param {Context} context
 */
function place({ app, params, session }) {
  const unit = unitOf(app, params.chassis);
  if (!unit || !app.plant) return null;
  const inspection = inspectionInHand(unit, session?.person.code ?? "");
  const views = viewsOf(app.plant, unit);
  const at = views.findIndex((view) => view.id === params.view);
  const zones = zonesOf(app.plant, unit, params.view);
  return at < 0 ? null : { unit, inspection, views, at, view: views[at], zones };
}

/**
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {Mark[]} marks
 */
function actions(context, here, marks) {
  const { unit, views, at, view } = here;
  const { address } = context;
  const next = views[(at + 1) % views.length];
  return html`<div class="walk-row">
    <a class="button" href="${address("unit", unit.chassis, "views", view.id)}">Views</a>
    ${mainKey(context, here, marks)}
    <a class="button" data-step="1" href="${address("unit", unit.chassis, "walk", next.id)}">${shortName(next)} ›</a>
  </div>`;
}

/**
 * The walk's next act: the lit zone looked at; where all of the view is, the next view that is not, else the end.
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {Mark[]} marks
 */
function mainKey({ app, address, may }, here, marks) {
  const { unit, inspection, views, at } = here;
  const to = (/** @type {string[]} */ ...parts) => address("unit", unit.chassis, ...parts);
  if (app.again) return html`<button type="button" data-act="once">Not again</button>`;
  if (!inspection)
    return may("inspection_begun")
      ? html`<a class="button main" href="${to("begin")}">Start inspection</a>`
      : html`<a class="button" href="${to()}">Unit</a>`;
  const lit = marks.find((mark) => mark.next)?.zone;
  if (lit)
    return html`<button
      type="button"
      class="main"
      data-act="looked"
      data-value="${lit.key}"
      aria-label="${lit.name} looked at"
    >
      <span ${lit.name.length > LONG ? "data-long" : ""}>${shape("looked")} ${lit.name}</span>
    </button>`;
  const left =
    inspection.purpose === "zones"
      ? undefined
      : [...views.slice(at + 1), ...views.slice(0, at)].find((each) =>
          zonesOf(/** @type {any} */ (app.plant), unit, each.id).some(
            (zone) => lookOf(unit, inspection, zone.key).state === "none",
          ),
        );
  return left
    ? html`<a class="button main" href="${to("walk", left.id)}">View done: ${shortName(left)}</a>`
    : html`<a class="button main" href="${to("end")}">All done: end</a>`;
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 * @param {Event} event
 */
async function zone(context, element, event) {
  const { app, params, go } = context;
  const key = element.dataset.zone ?? "";
  app.touched = { zone: key, mark: markOf(element, event) };
  if (app.again) {
    const again = app.again;
    app.again = "";
    return startDraft(context, key, again);
  }
  return go("unit", params.chassis, "zone", key);
}

/**
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {string} key
 */
async function look(context, { unit, inspection, zones }, key) {
  if (!inspection) return;
  await markLooked(
    context,
    unit,
    inspection,
    zones.filter((each) => each.key === key),
  );
  context.redraw();
}
