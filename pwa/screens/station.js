/** A station's own screen: the units that are due here, several passed with one key, each taken back again. */

import { endingWith, labelRead, readTyped } from "../lib/chassis.js";
import { ago, moment } from "../lib/clock.js";
import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { dueAt, lastPassed, passingAt, stationsPassed } from "../lib/line.js";
import { comesBy, lineName, optionNames, placeWords } from "../lib/plant.js";
import { MANAGER, has, roleWords } from "../lib/roles.js";
import { save, setSettings, unitOf, unitsShown } from "../lib/state.js";
import { UNIT_STATE, named } from "../lib/words.js";
import { codesIn } from "./find.js";
import { syncMark, valueOf } from "./parts.js";
import { refusedActs, refusedCards } from "./refused.js";

/** @import {Context, Page, Passing, Screen, Station, UnitView} from "../lib/shapes" */

const MOST = 40;
const LATELY_MS = 12 * 3600 * 1000;
const LEAST = 3; // figures that narrow the list to units that are not due, too

/** @type {Screen} */
export const stationScreen = {
  path: "station",
  live: true,
  page(context) {
    const station = stationOf(context);
    return station && !context.view.choosing ? unitsPage(context, station) : choicePage(context);
  },
  acts: {
    ...refusedActs,
    another({ view, redraw }) {
      view.choosing = true;
      redraw();
    },
    async take({ app, view, redraw }, element) {
      await setSettings(app, { station: element.dataset.value ?? "" });
      Object.assign(view, { choosing: false, chosen: [], order: [], typed: "" });
      redraw();
    },
    typed({ view, redraw }, element) {
      view.typed = valueOf(element);
      redraw();
    },
    unit({ view, redraw }, element) {
      toggle(view, element.dataset.value ?? "");
      redraw();
    },
    pass,
    undo,
    scan,
  },
};

/**
 * The station that this phone stands at; without one the only one that the person leads.
 * @param {Context} context
 * @returns {Station | undefined}
 */
function stationOf({ app, session, now }) {
  const own = session?.person.stations ?? [];
  const id = app.settings.station || (own.length === 1 ? own[0] : "");
  return app.plant ? stationsPassed(app.plant, own, now()).find((each) => each.id === id) : undefined;
}

/**
 * @param {Context} context
 * @returns {Page}
 */
function choicePage({ app, address, session, now }) {
  const own = session?.person.stations ?? [];
  return {
    title: t`At which station?`,
    body: html`<p>Kept on this phone until another is chosen.</p>
      <ul class="list">
        ${(app.plant ? stationsPassed(app.plant, own, now()) : []).map(
          ({ id, name, line }) =>
            html`<li>
              <button type="button" class="row" data-act="take" data-value="${id}">
                <span class="row-title">${id}</span
                ><span
                  >${name}${line ? ` · ${app.plant?.lines?.find((each) => each.code === line)?.name ?? line}` : ""}</span
                >
              </button>
            </li>`,
        )}
      </ul>`,
    actions: html`<a class="button" href="${address("units")}">Units in work</a>`,
  };
}

/**
 * @param {Context} context
 * @param {Station} station
 * @returns {Page}
 */
function unitsPage(context, station) {
  const { address, view, session, may_record, may } = context;
  view.chosen ??= [];
  const shown = listed(context, station);
  const here = new Set(shown.map((/** @type {UnitView} */ unit) => unit.chassis));
  const lately = passedLately(context, station).filter((unit) => !here.has(unit.chassis));
  const count = view.chosen.length;
  return {
    title: `${station.id} ${station.name}`,
    short: t`At ${station.id}`,
    body: html`${refusedCards(context, ({ op }) => op.body.station === station.id && op.kind === "station_passed")}
      <label class="field" for="figures"
        >Last figures of the number, or tap the units below
        <input
          id="figures"
          data-input="typed"
          value="${view.typed ?? ""}"
          inputmode="numeric"
          autocomplete="off"
          autocapitalize="characters"
          spellcheck="false"
          maxlength="20"
        />
      </label>
      ${view.scanned ? html`<p class="warning">${view.scanned}</p>` : ""}
      ${
        shown.length
          ? html`<ul class="list" aria-label="Due at ${station.id}">
              ${shown.slice(0, MOST).map((/** @type {UnitView} */ unit) => unitRow(context, station, unit))}
            </ul>`
          : html`<p class="strong">${noneWords(view.typed ?? "", station)}</p>`
      }
      ${shown.length > MOST ? html`<p>${shown.length - MOST} more. Give the last figures.</p>` : ""}
      ${
        lately.length
          ? html`<h2>Passed here before: ${lately.length}</h2>
              <ul class="list">
                ${lately.slice(0, MOST).map((unit) => unitRow(context, station, unit))}
              </ul>`
          : ""
      }
      <p>Where nobody tells it, the day of the work is reckoned by lead times.</p>`,
    actions: html`${
        !may_record
          ? html`<p class="strong">Read only. See Settings, install guide.</p>`
          : may("station_passed")
            ? html`<button type="button" class="main" data-act="pass" ${count ? "" : html`disabled`}>
                ${count ? t`Passed here: ${count}` : t`Tap the units that passed`}
              </button>`
            : html`<p class="strong">As ${roleWords(session?.person)} you read here and pass no unit.</p>`
      }
      <div class="pair">
        ${
          may("station_passed") && "BarcodeDetector" in window
            ? html`<label class="button"
                >Scan<input class="visually-hidden" type="file" accept="image/*" capture="environment" data-file="scan"
              /></label>`
            : ""
        }<button type="button" data-act="another">Another station</button
        ><a class="button" href="${address("units")}">Units in work</a>
      </div>`,
  };
}

/**
 * What the list shows. The order is that in which the page first met each unit: one that passed keeps its place, so that
 * nothing moves under a finger.
 * @param {Context} context
 * @param {Station} station
 */
function listed({ app, view }, station) {
  if (!app.plant) return [];
  const units = new Map(unitsShown(app).map((unit) => [unit.chassis, unit]));
  const due = dueAt([...units.values()], station.id, app.plant).map((unit) => unit.chassis);
  view.order = [...new Set([...(view.order ?? []), ...due])].filter((chassis) => units.has(chassis));
  const all = view.order.map((/** @type {string} */ chassis) => /** @type {UnitView} */ (units.get(chassis)));
  const { text } = readTyped(view.typed ?? "", app.plant.numbers);
  if (!text) return all;
  const others = text.length < LEAST ? [] : endingWith([...units.values()], text);
  const fits = [...new Set([...endingWith(all, text), ...others])];
  return [...new Set([...all.filter((/** @type {UnitView} */ unit) => view.chosen?.includes(unit.chassis)), ...fits])];
}

/**
 * Units that passed here of late, the last first.
 * @param {Context} context
 * @param {Station} station
 */
function passedLately({ app, now }, station) {
  const at = (/** @type {UnitView} */ unit) => passingAt(unit, station.id)?.passed_ms ?? 0;
  return unitsShown(app)
    .filter((unit) => now() - at(unit) < LATELY_MS)
    .sort((a, b) => at(b) - at(a));
}

/**
 * @param {Context} context
 * @param {Station} station
 * @param {UnitView} unit
 */
function unitRow(context, station, unit) {
  const { app, view, may, now } = context;
  const model = app.plant?.models.find((each) => each.code === unit.model);
  const passing = passingAt(unit, station.id);
  const last = lastPassed(unit);
  const number = html`<span class="row-title unit-number">${unit.shop_number}</span>`;
  const head = html`${number}
    <span>${model?.name ?? unit.model}${unit.options.length ? ` · ${optionNames(app.plant, unit)}` : ""}</span>`;
  const astray =
    app.plant && !comesBy(app.plant, unit, station.id)
      ? html`<span class="warning">Another line, ${lineName(app.plant, unit)}: it does not come by here</span>`
      : "";
  if (passing)
    return html`<li class="row done">
      ${number}<span class="strong">Passed ${when(context, passing)}</span>${astray}
      ${passing.local ? syncMark(passing.local) : html`<span>Told by ${passing.by}</span>`}
      ${
        mayUndo(context, unit, passing)
          ? html`<button
              type="button"
              data-act="undo"
              data-value="${unit.chassis}"
              aria-label="Undo: ${unit.shop_number} has not passed"
            >
              Undo
            </button>`
          : ""
      }
    </li>`;
  const where = last
    ? t`Last at ${placeWords(app.plant, last.station)}, ${ago(now() - last.passed_ms)}`
    : t`Told by no station yet`;
  if (unit.state === "cancelled" || unit.state === "released" || !may("station_passed"))
    return html`<li class="row">
      ${head}<span class="strong">${named(UNIT_STATE, unit.state)} · ${where}</span>${astray}
    </li>`;
  return html`<li>
    <button
      type="button"
      class="row"
      data-act="unit"
      data-value="${unit.chassis}"
      aria-pressed="${view.chosen.includes(unit.chassis) ? "true" : "false"}"
    >
      ${head}<span class="one-line">${where}</span>${astray}
    </button>
  </li>`;
}

/**
 * The plant's time of day, of one that is longer ago the day too.
 * @param {Context} context
 * @param {Passing} passing
 */
function when({ app, now }, { passed_ms }) {
  const told = moment(passed_ms, app.plant?.time_zone ?? "UTC");
  return now() - passed_ms < LATELY_MS ? told.split(", ").at(-1) : told;
}

/**
 * Who told it, the station's lead and the manager take it back, as the server's rule has it.
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Passing} passing
 */
function mayUndo({ may, session }, unit, passing) {
  const me = session?.person;
  const isTheirs = passing.by === me?.code || has(me, MANAGER) || !!me?.stations.includes(passing.station);
  return may("passing_withdrawn") && isTheirs && unit.state !== "released";
}

/**
 * @param {string} typed
 * @param {Station} station
 */
function noneWords(typed, station) {
  if (typed) return t`No unit on this phone ends with ${typed}. Sync where there is signal; until then write it down.`;
  return t`No unit on this phone is due at ${station.id}.`;
}

/**
 * @param {Record<string, any>} view
 * @param {string} chassis
 */
function toggle(view, chassis) {
  const others = (view.chosen ?? []).filter((/** @type {string} */ each) => each !== chassis);
  view.chosen = others.length < (view.chosen ?? []).length ? others : [...others, chassis];
}

/**
 * One record for each unit that has not passed here yet; all are on the disk, or none.
 * @param {Context} context
 */
async function pass(context) {
  const { app, view, say, sync, redraw } = context;
  const station = stationOf(context);
  if (!station) return;
  const facts = (view.chosen ?? [])
    .map((/** @type {string} */ chassis) => unitOf(app, chassis))
    .filter((/** @type {UnitView | undefined} */ unit) => unit && !passingAt(unit, station.id))
    .map((/** @type {UnitView} */ unit) => fact("station_passed", unit.chassis, { station: station.id }));
  if (!facts.length) return;
  await save(app, facts);
  Object.assign(view, { chosen: [], typed: "", scanned: "" });
  sync("station_passed");
  say({ text: t`Saved on phone: ${facts.length} passed ${station.id}`, shape: "saved" });
  return redraw();
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function undo(context, element) {
  const { app, say, sync, redraw } = context;
  const station = stationOf(context);
  const unit = unitOf(app, element.dataset.value ?? "");
  const passing = unit && station && passingAt(unit, station.id);
  if (!unit || !passing) return;
  await save(app, [fact("passing_withdrawn", unit.chassis, { passing: passing.id }, { deps: [passing.id] })]);
  sync("passing_withdrawn");
  say({
    text: t`Saved on phone: ${unit.shop_number} has not passed ${placeWords(app.plant, passing.station)}`,
    shape: "saved",
  });
  redraw();
}

/**
 * A label chooses its unit, as a tap does.
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function scan({ app, view, redraw }, element) {
  const file = /** @type {HTMLInputElement} */ (element).files?.[0];
  if (!file) return;
  const units = [...app.units.values()];
  const { number, words } = labelRead(units, await codesIn(file));
  const unit = units.find((each) => number && [each.chassis, each.shop_number].includes(number));
  if (unit && !view.chosen?.includes(unit.chassis)) toggle(view, unit.chassis);
  view.typed = unit ? unit.shop_number : view.typed;
  view.scanned = words;
  redraw();
}
