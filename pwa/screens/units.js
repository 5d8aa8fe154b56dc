/** The units in work as the role takes them up: what waits for this person first, then the others. */

import { age } from "../lib/clock.js";
import { html } from "../lib/html.js";
import { inHandBy, openList } from "../lib/fold.js";
import { t } from "../lib/language.js";
import { lineName, optionNames } from "../lib/plant.js";
import { queuesOf } from "../lib/queues.js";
import { refusedOf, unitsShown } from "../lib/state.js";
import { stateWords } from "../lib/words.js";
import { draftRow } from "./drafts.js";
import { alarmWords, counts, shape, syncMark } from "./parts.js";

/** @import {Context, Screen, UnitView} from "../lib/shapes" */

const MOST = 40;

/** @type {Screen} */
export const unitsScreen = {
  path: "units",
  live: true,
  page(context) {
    const { app, address, session } = context;
    const shown = unitsShown(app);
    const isKnown = (/** @type {UnitView} */ unit) => !!unit.alarm || !!unit.unplanned;
    const units = shown.filter((unit) => isKnown(unit) || !["released", "planned", "cancelled"].includes(unit.state));
    const planned = shown.filter((unit) => unit.state === "planned" && !isKnown(unit));
    const queues = session ? queuesOf(units, session.person) : [];
    if (planned.length) queues.push({ title: t`Planned`, units: planned.sort((a, b) => a.sequence - b.sequence) });
    return {
      title: t`Units in work`,
      body: html`${
        app.plant?.demo ? html`<p class="demo">Demo limits, not for use</p>` : ""
      }${app.drafts.map((draft) => draftRow(context, draft))}
      ${queues.length ? "" : html`<p>No unit is on this phone. Sync where there is signal.</p>`}
      ${queues.map(
        ({ title, units: own }) =>
          html`<h2>${title}: ${own.length}</h2>
            <ul class="list">
              ${own.slice(0, MOST).map((unit) => unitRow(context, unit))}
            </ul>
            ${own.length > MOST ? html`<p>${own.length - MOST} more. Find them by their number.</p>` : ""}`,
      )}`,
      actions: html`<a class="button main" href="${address("find")}">Find a unit</a>
        <div class="pair">
          <a class="button" href="${address("outbox")}">Outbox</a
          ><a class="button" href="${address("settings")}">Settings</a>
        </div>`,
    };
  },
};

/**
 * @param {Context} context
 * @param {UnitView} unit
 */
function unitRow({ app, address, now }, unit) {
  const model = app.plant?.models.find((each) => each.code === unit.model);
  const hands = inHandBy(unit);
  const open = openList(unit);
  const refused = refusedOf(app).filter(({ entry }) => entry.unit === unit.chassis).length;
  return html`<li>
    <a class="row" href="${address("unit", unit.chassis)}">
      <span class="row-title unit-number">${unit.shop_number}</span>
      <span
        >${[model?.name ?? unit.model, lineName(app.plant, unit), optionNames(app.plant, unit)].filter(Boolean).join(" · ")}</span
      >
      <span class="strong">${stateWords(unit)}${hands.length ? t` · in hand by ${hands.join(", ")}` : ""}</span>
      ${
        open.length
          ? html`<span
              >${counts(open)} · oldest
              ${age(Math.max(0, now() - Math.min(...open.map((each) => each.found_ms))))}</span
            >`
          : ""
      }
      ${refused ? html`<span>${syncMark("refused")}: ${refused}</span>` : ""}
      ${unit.alarm ? html`<span class="warning">${shape("not_saved")} Alarm: ${alarmWords(app.plant, unit)}</span>` : ""}
    </a>
  </li>`;
}
