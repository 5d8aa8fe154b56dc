/** The tests that this unit needs, by point, and how each stands: a blank is not tested. */

import { html } from "../lib/html.js";
import { inspectionInHand } from "../lib/fold.js";
import { unitOf } from "../lib/state.js";
import { limitWords, testsOf, viewsOf } from "../lib/plant.js";
import { shape } from "./parts.js";
import { noUnit } from "./no-unit.js";

/** @type {import("./frame.js").Screen} */
export const testsScreen = {
  path: "unit/:chassis/tests",
  live: true,
  page(context) {
    const { app, params, view, address, session } = context;
    const unit = unitOf(app, params.chassis);
    if (!unit || !app.plant) return noUnit(context);
    const tests = testsOf(app.plant, unit.model);
    const begun = inspectionInHand(unit, session?.person.code ?? "");
    const points = [...new Set(tests.map((test) => test.point))];
    const point = view.point ?? (points.includes(begun?.point ?? "") ? begun?.point : points[0]);
    return {
      title: `Tests · ${unit.shop_number}`,
      body: html`<div class="choices" role="group" aria-label="Point">${points.map((each) => html`<button type="button" data-act="point" data-value="${each}" aria-pressed="${each === point ? "true" : "false"}">${each}: ${doneAt(unit, tests, each)}</button>`)}</div>
        <ul class="list">${tests.filter((test) => test.point === point).map((test) => testRow(context, unit, test))}</ul>
        <p class="hint">A recorded result is only valid until something related is disturbed.</p>`,
      actions: html`${begun ? html`<a class="button" href="${address("unit", unit.chassis, "walk", viewsOf(app.plant, unit.model)[0].id)}">Walk round at ${begun.point}</a>
          <a class="button" href="${address("unit", unit.chassis, "end")}">End inspection at ${begun.point}</a>`
          : html`<a class="button main" href="${address("unit", unit.chassis, "begin")}">Start inspection</a>`}
        <a class="button" href="${address("unit", unit.chassis)}">Unit ${unit.shop_number}</a>`,
    };
  },
  acts: {
    point({ view, redraw }, element) {
      view.point = element.dataset.value;
      redraw();
    },
  },
};

/**
 * @param {import("../lib/fold.js").UnitView} unit
 * @param {import("../lib/plant.js").Test[]} tests
 * @param {string} point
 */
function doneAt(unit, tests, point) {
  const here = tests.filter((test) => test.point === point);
  const passed = here.filter((test) => unit.tests.some((each) => each.test === test.id && each.passed && !each.voided));
  return `${passed.length} of ${here.length} passed`;
}

/**
 * @param {import("./frame.js").Context} context
 * @param {import("../lib/fold.js").UnitView} unit
 * @param {import("../lib/plant.js").Test} test
 */
function testRow({ address }, unit, test) {
  const result = unit.tests.find((each) => each.test === test.id);
  const state = !result ? "Not tested" : result.voided ? "Voided by a later repair: test again" : result.passed ? "Passed" : "Failed";
  const mark = !result || result.voided ? "none" : result.passed ? "looked" : "refused";
  return html`<li><a class="row" href="${address("unit", unit.chassis, "test", test.id)}" data-state="${state.split(" ")[0].toLowerCase()}">
    <span class="row-title">${test.id} ${test.name}</span>
    <span class="strong">${shape(mark)} ${state}${result && result.value !== null ? `: ${result.value} ${test.unit}` : ""}</span>
    <span>${limitWords(test)} · ${test.reference || "no source named"}</span>
  </a></li>`;
}
