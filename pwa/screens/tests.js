/** The tests that a unit needs; one test with its limits, their source, every value so far and the value read. */

import { moment } from "../lib/clock.js";
import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { inspectionInHand } from "../lib/fold.js";
import { inWords, t } from "../lib/language.js";
import { save, setSettings, unitOf } from "../lib/state.js";
import { cautionsFor, limitWords, placeWords, testsOf, viewsOf, zonesOf } from "../lib/plant.js";
import {
  failureOf,
  implausible,
  judged,
  mayTakeBack,
  readingTyped,
  readingWords,
  resultsOf,
  standingOf,
} from "../lib/readings.js";
import { AGAIN, BASIS, named, within } from "../lib/words.js";
import { callButtons, caution, choices, chosen, noUnit, reasonChoices, shape, toldWords, typed } from "./parts.js";
import { startDraft } from "./draft.js";

/** @import {Context, Result, Screen, Test, UnitView} from "../lib/shapes" */

const SLIPS = inWords(["Typed wrong", "Wrong test", "Wrong unit"]);

/** @type {Screen} */
export const testScreen = {
  path: "unit/:chassis/test/:test",
  // Not what became of a value that was saved: that the record tells.
  keeps: ["value", "instrument", "until", "again", "why"],
  page(context) {
    const here = place(context);
    if (!here) return noUnit(context);
    const { app, view } = context;
    view.instrument ??= app.settings.instruments[here.test.id] ?? "";
    const untold = here.results.find((each) => each.untold);
    if (untold) return failedPage(context, here, untold);
    if (view.slip) return slipPage(context, here, view.slip);
    if (view.failed) return failedPage(context, here, view.failed);
    return view.odd ? oddPage(view.odd) : valuePage(context, here);
  },
  acts: {
    value: typed("value"),
    instrument: typed("instrument"),
    until: typed("until"),
    again: chosen("again"),
    sign({ view, redraw }) {
      view.value = String(view.value ?? "").startsWith("-") ? view.value.slice(1) : `-${view.value ?? ""}`;
      redraw();
    },
    beyond({ view, redraw }, element) {
      const plain = String(view.value ?? "").replace(/^\s*[<>]\s*/, "");
      const mark = element.dataset.value === "above" ? ">" : "<";
      view.value = String(view.value ?? "")
        .trim()
        .startsWith(mark)
        ? plain
        : mark + plain;
      redraw();
    },
    reread({ view, redraw }) {
      view.odd = "";
      redraw();
    },
    confirm(context, element) {
      context.view.confirmed = true;
      return record(context, element);
    },
    record,
    slip: chosen("slip"),
    why: chosen("why"),
    other: typed("why"),
    takeback,
    leave({ view, redraw }) {
      view.slip = "";
      redraw();
    },
    defect: (context, element) => {
      const here = place(context);
      const result = here?.results.find((each) => each.untold) ?? context.view.failed;
      const begun = here && inspectionInHand(here.unit, context.session?.person.code ?? "");
      const more = { ...(result ? { result: result.id } : {}), ...(begun ? {} : { point: here?.test.point }) };
      return here ? startDraft(context, element.dataset.value ?? "", here.test.type, more) : undefined;
    },
  },
};

/** @param {Context} context */
function place({ app, params }) {
  const unit = unitOf(app, params.chassis);
  const test = app.plant?.tests.find((each) => each.id === params.test);
  return unit && test && app.plant ? { unit, test, plant: app.plant, results: resultsOf(unit, test.id) } : null;
}

/** @typedef {NonNullable<ReturnType<typeof place>>} Here */

/**
 * @param {Context} context
 * @param {Here} here
 */
function valuePage(context, here) {
  const { view } = context;
  const { plant, test, unit } = here;
  return {
    title: `${test.id} ${test.name}`,
    short: t`Test`,
    body: html`<p>${unit.shop_number}</p>
      ${test.caution ? caution(context, test.caution) : ""}
      <p class="value">Limit: ${limitWords(test)}</p>
      ${plant.demo ? html`<p class="strong">Demo limit, not for use.</p>` : ""}
      ${valuesSoFar(context, here)}${whyAgain(context, here)}
      <p>${test.conditions}</p>
      <p>
        Source: ${test.reference || t`none named`} (${named(BASIS, test.basis)}). By: ${test.who}. Plant revision
        ${plant.revision.slice(0, 8)}.
      </p>
      ${
        test.kind === "measure"
          ? html`<label class="field" for="value"
                >Value as read, in ${test.unit}
                <input
                  id="value"
                  data-input="value"
                  inputmode="decimal"
                  enterkeyhint="next"
                  autocomplete="off"
                  maxlength="12"
                  value="${view.value ?? ""}"
              /></label>
              ${
                test.lower !== null && test.lower < 0
                  ? html`<button type="button" data-act="sign">Change sign (+/−)</button>`
                  : ""
              }
              ${(test.beyond ?? []).map(
                (each) =>
                  html`<button type="button" data-act="beyond" data-value="${each}">
                    ${each === "above" ? t`> More than the instrument shows` : t`< Less than the instrument shows`}
                  </button>`,
              )}`
          : ""
      }
      <label class="field" for="instrument"
        >Instrument number
        <input
          id="instrument"
          data-input="instrument"
          autocomplete="off"
          autocapitalize="characters"
          enterkeyhint="next"
          maxlength="40"
          value="${view.instrument}"
      /></label>
      <label class="field" for="until"
        >Calibrated until (optional) <input id="until" data-change="until" type="date" value="${view.until ?? ""}"
      /></label>`,
    actions: html`${
        test.kind === "measure"
          ? html`<button type="button" class="main" data-act="record">Save the value</button>`
          : html`<div class="pair">
              <button type="button" class="main" data-act="record" data-value="passed">${shape("looked")} Passed</button
              ><button type="button" class="main" data-act="record" data-value="failed">
                ${shape("refused")} Failed
              </button>
            </div>`
      } <a class="button" href="${context.address("unit", unit.chassis, "tests")}">Back: leave it as it is</a>`,
  };
}

/**
 * Every value of the test that the record holds, counted, with what became of it.
 * @param {Context} context
 * @param {Here} here
 */
function valuesSoFar(context, { plant, test, unit, results }) {
  if (!results.length) return "";
  const me = context.session?.person.code ?? "";
  return html`<h2>Values so far: ${results.length}</h2>
    <ol class="values">
      ${results.map(
        (each) =>
          html`<li>
            ${outcome(test, each)} by ${each.tester},
            ${moment(each.tested_ms, plant.time_zone)}${each.again ? t`, done again: ${within(named(AGAIN, each.again))}` : ""}
            ${
              mayTakeBack(unit, each, me, context.now())
                ? html`<button type="button" data-act="slip" data-value="${each.id}">
                    Take this value back (a slip)
                  </button>`
                : ""
            }
          </li>`,
      )}
    </ol>`;
}

/**
 * @param {Test} test
 * @param {Result} result
 */
function outcome(test, result) {
  const words = result.taken_back
    ? t`Taken back`
    : result.voided
      ? t`Voided by a later repair`
      : result.passed
        ? t`Passed`
        : t`Failed`;
  return `${words}${result.value === null ? "" : `, ${readingWords(result, test.unit)}`}`;
}

/**
 * A failed test is not done again until it passes: the next value says why.
 * @param {Context} context
 * @param {Here} here
 */
function whyAgain({ view }, { plant, results }) {
  if (!failureOf(results)) return "";
  const reasons = (plant.again_reasons ?? Object.keys(AGAIN)).map(
    (each) => /** @type {[string, string]} */ ([each, named(AGAIN, each)]),
  );
  return html`<p class="warning">
      ${shape("refused")} It failed. A further value stands beside the failure and says why it was done again.
    </p>
    ${choices("again", t`Why again`, reasons, view.again ?? "")}`;
}

/** @param {string} odd */
function oddPage(odd) {
  return {
    title: t`Is that right?`,
    body: html`<p class="value">${odd}</p>
      <p>Look at the instrument again: the sign, the point, the unit.</p>
      <button type="button" data-act="confirm">It is right: save it as read</button>`,
    actions: html`<button type="button" class="main" data-act="reread">Enter it again</button>`,
  };
}

/**
 * What keeps a value from being saved, in words, "" for nothing.
 * @param {Context} context
 * @param {Here} here
 * @param {ReturnType<typeof readingTyped>} reading
 */
function lacking({ view }, { test, results }, reading) {
  if (test.kind === "measure" && !reading) return t`Give the value as read, in ${test.unit}. A blank stays not tested.`;
  if (reading?.beyond && !(test.beyond ?? []).includes(reading.beyond))
    return t`${test.id} takes no "more than" or "less than": use a range that shows the value.`;
  if (reading && judged(test, reading.value, reading.beyond) === null)
    return t`${readingWords(reading, test.unit)} does not tell whether the limit is met. Use a range that reaches it.`;
  if (!/^[A-Za-z0-9._-]{1,40}$/.test(view.instrument))
    return t`Give the instrument's number: letters, figures, dot and dash, without spaces.`;
  return failureOf(results) && !view.again ? t`Choose why the failed test was done again.` : "";
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function record(context, element) {
  const { app, view, session, say, sync, go, redraw, may_record } = context;
  const here = place(context);
  if (!here || view.saving) return;
  const { unit, test, results } = here;
  if (!may_record) return say({ text: t`Read only. See Settings, install guide.` });
  const reading = test.kind === "measure" ? readingTyped(view.value ?? "") : null;
  const problem = lacking(context, here, reading);
  if (problem) return say({ text: problem });
  view.odd = reading && !view.confirmed ? implausible(test, reading.value) : "";
  if (view.odd) return fromTheTop(redraw);
  const passed = reading ? judged(test, reading.value, reading.beyond) === true : element.dataset.value === "passed";
  const inspection = inspectionInHand(unit, session?.person.code ?? "");
  const body = {
    test: test.id,
    instrument: view.instrument,
    ...(reading ?? {}),
    passed,
    inspection: inspection?.id,
    calibrated_until: view.until,
    again: failureOf(results) ? view.again : "",
    confirmed: view.confirmed || null,
  };
  const made = fact("test_recorded", unit.chassis, body, { deps: inspection ? [inspection.id] : [] });
  view.saving = true; // a second tap while the disk works must not record twice
  try {
    await save(app, [made]);
  } finally {
    view.saving = false;
  }
  await setSettings(app, { instruments: { ...app.settings.instruments, [test.id]: view.instrument } });
  Object.assign(view, { value: "", again: "", confirmed: false });
  sync("test");
  say({
    text: `${passed ? t`Saved on phone: ${test.id} passed` : t`Saved on phone: ${test.id} failed`}${reading ? `, ${readingWords(reading, test.unit)}` : ""}`,
    shape: "saved",
  });
  if (passed) return go("unit", unit.chassis, "tests");
  view.failed = { id: made.id };
  return fromTheTop(redraw);
}

/**
 * Another page at the same address begins at its top: what stops a unit must not lie above the screen.
 * @param {() => void} redraw
 */
function fromTheTop(redraw) {
  redraw();
  document.querySelector("main")?.scrollTo(0, 0);
}

/**
 * @param {Context} context
 * @param {Here} here
 * @param {string} id
 */
function slipPage({ view }, { test, results }, id) {
  const result = results.find((each) => each.id === id);
  return {
    title: t`Take a value back`,
    body: html`<p class="value">${test.id}: ${result ? outcome(test, result) : ""}</p>
      <p>
        It stays in the record, marked as taken back, with your name and the reason.
        ${test.hazard && result && !result.passed ? t`The defect of a failure stays: the quality manager withdraws it.` : ""}
      </p>
      <h2>Why</h2>
      ${reasonChoices(
        "why",
        "other",
        t`Why`,
        SLIPS.map((each) => t(each)),
        view.why ?? "",
      )}
      <button type="button" data-act="takeback" data-value="${id}">Take it back</button>`,
    actions: html`<button type="button" class="main" data-act="leave">Leave it as it is</button>`,
  };
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function takeback(context, element) {
  const { app, params, view, say, sync, redraw } = context;
  const reason = view.why ?? "";
  if (reason.length < 3) return say({ text: t`Choose why it is taken back.` });
  const result = element.dataset.value ?? "";
  await save(app, [fact("test_withdrawn", params.chassis, { result, reason }, { deps: [result] })]);
  sync("slip");
  say({
    text: t`Saved on phone: value taken back. It waits for the server's word; the record keeps it with the reason.`,
    shape: "saved",
  });
  Object.assign(view, { slip: "", why: "", value: "", failed: null });
  return redraw();
}

/**
 * A failed test is a defect; its zone is chosen among those of the right kind. Of a hazardous test nothing else can be
 * done here before its defect is recorded.
 * @param {Context} context
 * @param {Here} here
 * @param {{id: string}} failed
 */
function failedPage(context, { unit, test, plant, results }, failed) {
  const type = plant.types.find((each) => each.code === test.type);
  const zones = zonesOf(plant, unit).filter((zone) => type?.zone_kinds.includes(zone.kind));
  const result = results.find((each) => each.id === failed.id);
  const codes = [...new Set([test.caution, ...cautionsFor(undefined, type)])].filter((code) => code !== "");
  const mine = result && mayTakeBack(unit, result, context.session?.person.code ?? "", context.now());
  return {
    title: t`${test.id} failed`,
    body: html`<p class="value">
        ${test.name}${result && result.value !== null ? `: ${readingWords(result, test.unit)}` : ""}
      </p>
      ${
        test.hazard
          ? html`<p class="warning">
              ${shape("not_saved")} Stop the unit where it stands. Isolate, tag, tell ${toldWords(plant, codes)}.
            </p>`
          : ""
      }
      ${codes.map((code) => caution(context, code, { always: true }))}
      ${
        result?.untold
          ? html`<p class="strong">
              This failure needs its defect: the unit is not released without it, whatever is measured next.
            </p>`
          : ""
      }
      <h2>Record the defect: ${type?.name ?? test.type}</h2>
      <p>Where?</p>
      <div class="groups">
        ${zones.map(
          (zone) =>
            html`<button type="button" data-act="defect" data-value="${zone.key}">
              ${zone.name} (${plant.views.find((view) => view.id === zone.view)?.name ?? zone.view})
            </button>`,
        )}
      </div>
      ${
        mine && !test.hazard
          ? html`<button type="button" data-act="slip" data-value="${failed.id}">Take this value back (a slip)</button>`
          : ""
      }`,
    actions: html`${test.hazard ? callButtons(plant, codes) : ""}
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
    const tests = testsOf(app.plant, unit);
    const begun = inspectionInHand(unit, session?.person.code ?? "");
    const points = [...new Set(tests.map((test) => test.point))];
    const point = view.point ?? (points.includes(begun?.point ?? "") ? begun?.point : points[0]);
    return {
      title: t`Tests · ${unit.shop_number}`,
      body: !tests.length
        ? html`<p>No test is asked of this unit.</p>`
        : html`<div class="choices" role="group" aria-label="Point">
              ${points.map(
                (each) =>
                  html`<button
                    type="button"
                    data-act="point"
                    data-value="${each}"
                    aria-pressed="${each === point ? "true" : "false"}"
                  >
                    ${placeWords(app.plant, each)}: ${doneAt(unit, tests, each)}
                  </button>`,
              )}
            </div>
            <ul class="list">
              ${tests.filter((test) => test.point === point).map((test) => testRow(context, unit, test))}
            </ul>
            <p class="hint">A recorded result is only valid until something related is disturbed.</p>`,
      actions: html`${
          begun
            ? html`<a class="button" href="${address("unit", unit.chassis, "walk", viewsOf(app.plant, unit)[0].id)}"
                  >Walk round at ${placeWords(app.plant, begun.point)}</a
                >
                <a class="button" href="${address("unit", unit.chassis, "end")}"
                  >End inspection at ${placeWords(app.plant, begun.point)}</a
                >`
            : context.may("inspection_begun")
              ? html`<a class="button main" href="${address("unit", unit.chassis, "begin")}">Start inspection</a>`
              : ""
        } <a class="button" href="${address("unit", unit.chassis)}">Unit ${unit.shop_number}</a>`,
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
  return t`${passed.length} of ${here.length} passed`;
}

/**
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Test} test
 */
function testRow({ address }, unit, test) {
  const results = resultsOf(unit, test.id);
  const result = standingOf(results) ?? unit.tests.find((each) => each.test === test.id);
  const state = !result
    ? t`Not tested`
    : result.voided
      ? t`Voided by a later repair: test again`
      : result.passed
        ? t`Passed`
        : t`Failed`;
  const mark = !result || result.voided ? "none" : result.passed ? "looked" : "refused";
  return html`<li>
    <a
      class="row"
      href="${address("unit", unit.chassis, "test", test.id)}"
      data-state="${mark === "looked" ? "passed" : mark === "refused" ? "failed" : result ? "voided" : "not"}"
    >
      <span class="row-title">${test.id} ${test.name}</span>
      <span class="strong"
        >${shape(mark)}
        ${state}${result && result.value !== null ? `: ${readingWords({ beyond: "", ...result }, test.unit)}` : ""}${results.length > 1 ? t` (${results.length} values)` : ""}</span
      >
      ${
        results.some((each) => each.untold)
          ? html`<span class="strong">${shape("not_saved")} Its defect is not recorded: tap to record it</span>`
          : ""
      }
      <span>${limitWords(test)} · ${test.reference || t`no source named`}</span>
    </a>
  </li>`;
}
