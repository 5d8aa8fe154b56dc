/** The walk round: one view's drawing (or list), every zone a target, clean ones marked with one tap. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { inspectionInHand, lookOf, openList } from "../lib/fold.js";
import { save, setSettings, unitOf } from "../lib/state.js";
import { shortName, typeOf, viewsOf, zonesOf } from "../lib/plant.js";
import { caution, noUnit } from "./parts.js";
import { markOf, zoneDrawing, zoneList } from "./zone-map.js";
import { startDraft } from "./draft.js";

/** @import {App, Context, Mark, Screen, Zone} from "../lib/shapes" */

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
      look: lookOf(here.unit, here.inspection, zone.key),
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
    looked: (context, element) => markLooked(context, [element.dataset.value ?? ""]),
    rest(context) {
      const here = place(context);
      if (!here) return;
      const rest = here.zones.filter((each) => lookOf(here.unit, here.inspection, each.key).state === "none");
      return markLooked(context, rest.map((each) => each.key));
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

/** @param {Context} context */
function place({ app, params, session }) {
  const unit = unitOf(app, params.chassis);
  const inspection = unit && inspectionInHand(unit, session?.person.code ?? "");
  if (!unit || !inspection || !app.plant) return null;
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
function actions({ app, view, address }, here, marks) {
  const rest = marks.filter((mark) => mark.look.state === "none").length;
  const { views, at, unit } = here;
  const to = (/** @type {number} */ step) => address("unit", unit.chassis, "walk", views[(at + step + views.length) % views.length].id);
  const list = app.settings.zones_as === "list";
  return html`
    <div class="choices touch" role="group" aria-label="What a touch on a zone does">
      <button type="button" data-act="touch" data-value="defect" aria-pressed="${view.touch === "defect" && !app.again ? "true" : "false"}">Defect</button>
      <button type="button" data-act="touch" data-value="looked" aria-pressed="${view.touch === "looked" ? "true" : "false"}">Looked at</button>
      <button type="button" data-act="shown" data-value="${list ? "drawing" : "list"}">${list ? "Drawing" : "List"}</button>
    </div>
    <button type="button" class="main" data-act="rest" ${rest ? "" : html`disabled`}>${rest ? `Rest looked at, clean (${rest})` : "This view is done"}</button>
    <div class="triple">
      <a class="button" href="${to(-1)}">‹ ${shortName(views[(at + views.length - 1) % views.length])}</a>
      <a class="button" href="${address("unit", unit.chassis, "end")}">End</a>
      <a class="button" href="${to(1)}">${shortName(views[(at + 1) % views.length])} ›</a>
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
  app.touched = { zone: key, mark: markOf(element, event) };
  if (app.again) {
    const again = app.again;
    app.again = "";
    return startDraft(context, key, again);
  }
  if (view.touch === "looked") return markLooked(context, [key]);
  return go("unit", params.chassis, "zone", key);
}

/**
 * @param {Context} context
 * @param {string[]} zones
 */
async function markLooked(context, zones) {
  const here = place(context);
  if (!here || !zones.length) return;
  const { app, say, sync, redraw } = context;
  await save(app, [fact("zone_looked_at", here.unit.chassis, { inspection: here.inspection.id, zones }, { deps: [here.inspection.id] })]);
  sync("looked at");
  const name = zones.length === 1 ? here.zones.find((each) => each.key === zones[0])?.name : `${zones.length} zones`;
  say({ text: `Saved on phone: ${name} looked at`, shape: "saved", buttons: [{ label: "Undo", run: (now) => unmark(now, here, zones) }] });
  redraw();
}

/**
 * A wrong tap is taken back by a later fact: those zones were not looked at.
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {string[]} zones
 */
async function unmark({ app, say, sync, redraw }, here, zones) {
  const facts = zones.map((zone) =>
    fact("zone_not_looked_at", here.unit.chassis, { inspection: here.inspection.id, zone, reason: "other", note: "Marked looked at by mistake" }, { deps: [here.inspection.id] }),
  );
  await save(app, facts);
  sync("undo");
  say({ text: "Taken back: marked as not looked at. Look, then mark again.", shape: "not" });
  redraw();
}
