/** The tests that a unit needs; one test with its limits, their source and the value read. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { inspectionInHand } from "../lib/fold.js";
import { save, setSettings, unitOf } from "../lib/state.js";
import { isWithin, limitWords, testsOf, viewsOf, zonesOf } from "../lib/plant.js";
import { BASIS, named } from "../lib/words.js";
import { caution, chosen, noUnit, shape, typed } from "./parts.js";
import { startDraft } from "./draft.js";

/** @import {Context, Screen, Test, UnitView} from "../lib/shapes" */

const STOPS = ["GAS", "ELE"]; // a failed gas or mains test stops the unit where it stands

/** @type {Screen} */
export const testScreen = {
  path: "unit/:chassis/test/:test",
  page(context) {
    const here = place(context);
    if (!here) return noUnit(context);
    const { app, view } = context;
    const { plant, test, unit } = here;
    view.instrument ??= app.settings.instruments[test.id] ?? "";
    if (view.failed) return failedPage(context, here);
    return {
      title: `${test.id} ${test.name}`,
      body: html`<p>${unit.shop_number}</p>
        ${test.caution ? caution(context, test.caution) : ""}
        <p class="value">Limit: ${limitWords(test)}</p>
        ${plant.demo ? html`<p class="strong">Demo limit, not for use.</p>` : ""}
        <p>${test.conditions}</p>
        <p>Source: ${test.reference || "none named"} (${named(BASIS, test.basis)}). By: ${test.who}. Plant revision ${plant.revision.slice(0, 8)}.</p>
        ${test.kind === "measure" ? html`<label class="field" for="value">Value as read, in ${test.unit}
          <input id="value" data-change="value" inputmode="decimal" enterkeyhint="next" autocomplete="off" maxlength="12" value="${view.value ?? ""}"></label>
          ${test.lower !== null && test.lower < 0 ? html`<button type="button" data-act="sign">Change sign (+/−)</button>` : ""}` : ""}
        <label class="field" for="instrument">Instrument number
          <input id="instrument" data-change="instrument" autocomplete="off" autocapitalize="characters" enterkeyhint="next" maxlength="40" value="${view.instrument}"></label>
        <label class="field" for="until">Calibrated until (optional)
          <input id="until" data-change="until" type="date" value="${view.until ?? ""}"></label>`,
      actions: html`${test.kind === "measure" ? html`<button type="button" class="main" data-act="record">Save the value</button>`
          : html`<div class="pair"><button type="button" class="main" data-act="record" data-value="passed">${shape("looked")} Passed</button><button type="button" class="main" data-act="record" data-value="failed">${shape("refused")} Failed</button></div>`}
        <a class="button" href="${context.address("unit", unit.chassis, "tests")}">Back: leave it not tested</a>`,
    };
  },
  acts: {
    value: typed("value"),
    instrument: typed("instrument"),
    until: typed("until"),
    sign({ view, redraw }) {
      view.value = String(view.value ?? "").startsWith("-") ? view.value.slice(1) : `-${view.value ?? ""}`;
      redraw();
    },
    record,
    defect: (context, element) => {
      const here = place(context);
      return here ? startDraft(context, element.dataset.value ?? "", here.test.type) : undefined;
    },
  },
};

/** @param {Context} context */
function place({ app, params }) {
  const unit = unitOf(app, params.chassis);
  const test = app.plant?.tests.find((each) => each.id === params.test);
  return unit && test && app.plant ? { unit, test, plant: app.plant } : null;
}

/**
 * The number that was typed, a comma taken as the decimal point; null where it is none.
 * @param {string} typed
 */
export function numberTyped(typed) {
  const plain = typed.replace(/\s/g, "").replace(",", ".").replace("−", "-");
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) && Math.abs(Number(plain)) <= 1e9 ? Number(plain) : null;
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function record(context, element) {
  const { app, view, session, say, sync, go, redraw, may_record } = context;
  const here = place(context);
  if (!here) return;
  const { unit, test } = here;
  if (!may_record) return say({ text: "Read only. See Settings, install guide." });
  const value = test.kind === "measure" ? numberTyped(view.value ?? "") : null;
  if (test.kind === "measure" && value === null) return say({ text: `Give the value as read, in ${test.unit}. A blank stays not tested.` });
  if (!/^[A-Za-z0-9._-]{1,40}$/.test(view.instrument)) return say({ text: "Give the instrument's number: letters, figures, dot and dash, without spaces." });
  const passed = value === null ? element.dataset.value === "passed" : isWithin(test, value);
  const inspection = inspectionInHand(unit, session?.person.code ?? "");
  const body = { test: test.id, instrument: view.instrument, value, passed, inspection: inspection?.id, calibrated_until: view.until };
  await save(app, [fact("test_recorded", unit.chassis, body, { deps: inspection ? [inspection.id] : [] })]);
  await setSettings(app, { instruments: { ...app.settings.instruments, [test.id]: view.instrument } });
  sync("test");
  say({ text: `Saved on phone: ${test.id} ${passed ? "passed" : "failed"}${value === null ? "" : `, ${value} ${test.unit}`}`, shape: "saved" });
  if (passed) return go("unit", unit.chassis, "tests");
  view.failed = { value };
  return redraw();
}

/**
 * A failed test is a defect; its zone is chosen among those of the right kind.
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 */
function failedPage(context, { unit, test, plant }) {
  const type = plant.types.find((each) => each.code === test.type);
  const zones = zonesOf(plant, unit.model).filter((zone) => type?.zone_kinds.includes(zone.kind));
  return {
    title: `${test.id} failed`,
    body: html`<p class="value">${test.name}</p>
      ${STOPS.includes(test.caution) ? html`<p class="warning">${shape("not_saved")} Stop the unit where it stands. Isolate, tag, tell the lead.</p>` : ""}
      ${test.caution ? caution(context, test.caution, { always: true }) : ""}
      <h2>Record the defect: ${type?.name ?? test.type}</h2><p>Where?</p>
      <div class="groups">${zones.map((zone) => html`<button type="button" data-act="defect" data-value="${zone.key}">${zone.name} (${plant.views.find((view) => view.id === zone.view)?.name ?? zone.view})</button>`)}</div>`,
    actions: html`${STOPS.includes(test.caution) && plant.stop_phone ? html`<a class="button main stop" href="tel:${plant.stop_phone}">Call the lead: ${plant.stop_phone}</a>` : ""}
      <a class="button" href="${context.address("unit", unit.chassis, "tests")}">Tests</a>`,
  };
}

/** @type {Screen} */
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
    point: chosen("point"),
  },
};

/**
 * @param {UnitView} unit
 * @param {Test[]} tests
 * @param {string} point
 */
function doneAt(unit, tests, point) {
  const here = tests.filter((test) => test.point === point);
  const passed = here.filter((test) => unit.tests.some((each) => each.test === test.id && each.passed && !each.voided));
  return `${passed.length} of ${here.length} passed`;
}

/**
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Test} test
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
