/** Begin a look at a unit: at which point, in what light and weather. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { detectionPoints, viewsOf } from "../lib/plant.js";
import { save, unitOf } from "../lib/state.js";
import { LIGHT, PURPOSE, WEATHER, named } from "../lib/words.js";
import { caution, choices, identity, noUnit } from "./parts.js";

/** @import {Context, Screen} from "../lib/shapes" */

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
    light: choose("light"),
    weather: choose("weather"),
    point: choose("point"),
    purpose: choose("purpose"),
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

/** @param {string} field */
function choose(field) {
  return (/** @type {Context} */ { view, redraw }, /** @type {HTMLElement} */ element) => {
    view[field] = view[field] === element.dataset.value && field === "weather" ? "" : element.dataset.value;
    redraw();
  };
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
