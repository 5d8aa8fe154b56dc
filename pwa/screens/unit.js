/** One unit: identity read back, what is open, in whose hands, what to do next. */

import { ago } from "../lib/clock.js";
import { html } from "../lib/html.js";
import { inHandBy, inspectionInHand, openList } from "../lib/fold.js";
import { t, told } from "../lib/language.js";
import { unitOf } from "../lib/state.js";
import { placeWords, testsOf, viewsOf } from "../lib/plant.js";
import { roleWords } from "../lib/roles.js";
import { LIGHT, PURPOSE, named, stateWords, within } from "../lib/words.js";
import { alarmWords, cancelledWarning, cautionsShown, defectRow, identity, noUnit, shape } from "./parts.js";
import { refusedActs, refusedCards } from "./refused.js";

/** @import {Context, Screen, UnitView} from "../lib/shapes" */

/** @type {Screen} */
export const unitScreen = {
  path: "unit/:chassis",
  live: true,
  page(context) {
    const { app, params, session } = context;
    const unit = unitOf(app, params.chassis);
    if (!unit || !app.plant) return noUnit(context);
    const open = openList(unit);
    const settled = unit.defects.filter((defect) => !open.includes(defect));
    return {
      title: t`Unit ${unit.shop_number}`,
      body: html`${identity(app, unit)}
        ${unit.alarm ? html`<p class="warning">${shape("not_saved")} Alarm: ${alarmWords(app.plant, unit)}</p>` : ""}
        ${cancelledWarning(unit)} ${refusedCards(context, (entry) => entry.unit === unit.chassis)}
        <p class="strong">${standing(unit)}</p>
        ${stands(context, unit)} ${hands(unit, session?.person.code ?? "")} ${cautionsShown(context, "unit")}
        <h2>Open list: ${open.length}</h2>
        ${
          open.length
            ? html`<ul class="list">
                ${open.map((defect) => defectRow(context, unit, defect))}
              </ul>`
            : html`<p>Nothing is open on this unit.</p>`
        }
        ${
          settled.length
            ? html`<details class="more">
                <summary>Settled: ${settled.length}</summary>
                <ul class="list">
                  ${settled.map((defect) => defectRow(context, unit, defect))}
                </ul>
              </details>`
            : ""
        }
        ${
          unit.inspections.length
            ? html`<details class="more">
                <summary>Looks at this unit: ${unit.inspections.length}</summary>
                <ul>
                  ${unit.inspections.map(
                    (each) =>
                      html`<li>
                        ${t`${each.inspector} at ${placeWords(app.plant, each.point)}, ${within(named(PURPOSE, each.purpose))}, light ${within(named(LIGHT, each.light))}`}${each.ended_ms === null ? t`, not ended` : ""}
                      </li>`,
                  )}
                </ul>
              </details>`
            : ""
        }`,
      actions: actions(context, unit),
    };
  },
  acts: refusedActs,
};

/** @param {UnitView} unit */
function standing(unit) {
  if (unit.release) return t`Released by ${unit.release.signed_by}, against ${told(unit.release.against)}`;
  return t`Not released · ${stateWords(unit)}`;
}

/**
 * Where the unit stands, and the way to tell it.
 * @param {Context} context
 * @param {UnitView} unit
 */
function stands({ address, may, now }, unit) {
  const told = unit.place;
  return html`${
    told ? html`<p class="strong">Stands at ${told.place}, told by ${told.by} ${ago(now() - told.moved_ms)}</p>` : ""
  }${
    may("unit_moved")
      ? html`<a class="button" href="${address("unit", unit.chassis, "place")}">
          ${told ? t`It stands elsewhere` : t`Tell where it stands`}
        </a>`
      : ""
  }`;
}

/**
 * @param {UnitView} unit
 * @param {string} me
 */
function hands(unit, me) {
  const others = inHandBy(unit).filter((person) => person !== me);
  return others.length ? html`<p class="strong">In hand by ${others.join(", ")}. Both may work.</p>` : "";
}

/**
 * @param {Context} context
 * @param {UnitView} unit
 */
function actions({ app, address, session, may_record, may }, unit) {
  const at = (/** @type {string[]} */ ...parts) => address("unit", unit.chassis, ...parts);
  const begun = inspectionInHand(unit, session?.person.code ?? "");
  const firstView = app.plant ? viewsOf(app.plant, unit)[0]?.id : "";
  return html`${
      !may_record
        ? html`<p class="strong">Read only. See Settings, install guide.</p>`
        : begun
          ? html`<a class="button main" href="${at("walk", firstView)}"
              >Go on with the walk at ${placeWords(app.plant, begun.point)}</a
            >`
          : may("inspection_begun")
            ? html`<div class="pair">
                <a class="button main" href="${at("begin")}">Start inspection</a>
                <a class="button" href="${at("walk", firstView)}">A defect only</a>
              </div>`
            : html`<p class="strong">As ${roleWords(session?.person)} you read here and record nothing on a unit.</p>`
    }
    <div class="pair">
      ${app.plant && testsOf(app.plant, unit).length ? html`<a class="button" href="${at("tests")}">Tests</a>` : ""}
      <a class="button" href="${at("release")}">${may("unit_released") ? t`Prepare release` : t`What blocks it`}</a>
    </div>`;
}
