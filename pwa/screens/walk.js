/** The walk round: one view's drawing (or list), every zone a target, clean ones marked with one tap. */

import { html } from "../lib/html.js";
import { inspectionInHand, lookOf, openList } from "../lib/fold.js";
import { setSettings, unitOf } from "../lib/state.js";
import { shortName, typeOf, viewsOf, zonesOf } from "../lib/plant.js";
import { markLooked } from "./looked.js";
import { caution, noUnit } from "./parts.js";
import { markOf, zoneDrawing, zoneList } from "./zone-map.js";
import { startDraft } from "./draft.js";

/** @import {App, Context, Look, Mark, Screen, Zone} from "../lib/shapes" */

/** @type {Look} */
const NOT_YET = { state: "none", by: "", reason: "" };

const FOLDED = 88; // px, a caution that shows its name only

/** @type {Screen} */
export const walkScreen = {
  path: "unit/:chassis/walk/:view",
  live: true,
  page(context) {
    const here = place(context);
    if (!here) return noUnit(context);
    const { app, view } = context;
    view.touch ??= "defect";
    const cautions = sharedCautions(here.zones);
    const marks = here.zones.map((zone) => ({
      zone,
      look: here.inspection ? lookOf(here.unit, here.inspection, zone.key) : NOT_YET,
      defects: openList(here.unit).filter((defect) => defect.zone === zone.key).length,
    }));
    return {
      title: `${shortName(here.view)} · ${here.unit.shop_number}`,
      body: (room) => html`<div class="walk">
        ${cautions.map((code) => caution(context, code))}
        ${app.settings.zones_as === "list" ? zoneList(marks, here.view, touchWords(app, view)) : zoneDrawing(marks, here.view, left(room, cautions.length), app.settings.targets, touchWords(app, view))}</div>`,
      actions: actions(context, here, marks),
    };
  },
  acts: {
    zone,
    touch({ app, view, redraw }, element) {
      view.touch = element.dataset.value;
      app.again = "";
      redraw();
    },
    async shown({ app, redraw }, element) {
      await setSettings(app, { zones_as: element.dataset.value === "list" ? "list" : "drawing" });
      redraw();
    },
    looked(context, element) {
      const here = place(context);
      return here ? look(context, here, element.dataset.value ?? "") : undefined;
    },
  },
};

/**
 * What a touch on a zone does now.
 * @param {App} app
 * @param {Record<string, any>} view
 */
function touchWords(app, view) {
  if (app.again) return `Touch: same again, ${app.plant && typeOf(app.plant, app.again)?.name}`;
  return view.touch === "looked" ? "Touch: looked at" : "Touch: defect";
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
 * The room for the drawing under folded cautions.
 * @param {{width: number, height: number}} room
 * @param {number} cautions
 */
function left(room, cautions) {
  return { width: room.width, height: room.height - cautions * FOLDED };
}

/**
 * A person without an inspection sees the drawing too, and records single defects from it.
 * @param {Context} context
 */
function place({ app, params, session }) {
  const unit = unitOf(app, params.chassis);
  if (!unit || !app.plant) return null;
  const inspection = inspectionInHand(unit, session?.person.code ?? "");
  const views = viewsOf(app.plant, unit.model);
  const at = views.findIndex((view) => view.id === params.view);
  const zones = zonesOf(app.plant, unit.model, params.view);
  return at < 0 ? null : { unit, inspection, views, at, view: views[at], zones };
}

/**
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {Mark[]} marks
 */
function actions({ app, view, address, may }, { views, at, unit, inspection }, marks) {
  const rest = marks.filter((mark) => mark.look.state === "none").length;
  const to = (/** @type {number} */ step) => address("unit", unit.chassis, "walk", views[(at + step + views.length) % views.length].id);
  const list = app.settings.zones_as === "list";
  const shown = html`<button type="button" data-act="shown" data-value="${list ? "drawing" : "list"}">${list ? "Drawing" : "List"}</button>`;
  const touch = inspection ? html`
      <button type="button" data-act="touch" data-value="defect" aria-pressed="${view.touch === "defect" && !app.again ? "true" : "false"}">Defect</button>
      <button type="button" data-act="touch" data-value="looked" aria-pressed="${view.touch === "looked" ? "true" : "false"}">Looked at</button>
      ${shown}
      ${inspection.purpose === "zones" ? "" : rest ? html`<a class="button" href="${address("unit", unit.chassis, "rest", views[at].id)}">Rest (${rest})</a>` : html`<p class="strong">View done</p>`}`
    : html`${may("inspection_begun") ? html`<a class="button" href="${address("unit", unit.chassis, "begin")}">Start inspection</a>` : ""}${shown}`;
  const end = inspection ? html`<a class="button" href="${address("unit", unit.chassis, "end")}">End</a>` : html`<a class="button" href="${address("unit", unit.chassis)}">Unit</a>`;
  return html`
    <div class="choices touch" role="group" aria-label="What a touch on a zone does">${touch}</div>
    <div class="triple">
      <a class="button" data-step="-1" href="${to(-1)}">‹ ${shortName(views[(at + views.length - 1) % views.length])}</a>
      ${end}
      <a class="button" data-step="1" href="${to(1)}">${shortName(views[(at + 1) % views.length])} ›</a>
    </div>`;
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 * @param {Event} event
 */
async function zone(context, element, event) {
  const { app, params, view, go } = context;
  const key = element.dataset.zone ?? "";
  const here = place(context);
  app.touched = { zone: key, mark: markOf(element, event) };
  if (app.again) {
    const again = app.again;
    app.again = "";
    return startDraft(context, key, again);
  }
  if (here && view.touch === "looked") return look(context, here, key);
  return go("unit", params.chassis, "zone", key);
}

/**
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {string} key
 */
async function look(context, { unit, inspection, zones }, key) {
  if (!inspection) return;
  await markLooked(context, unit, inspection, zones.filter((each) => each.key === key));
  context.redraw();
}
