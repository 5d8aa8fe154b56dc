/** The way to everything: what is open, the units, the outbox, the settings, and every warning that stands in words. */

import { html } from "../lib/html.js";
import { inspectionInHand } from "../lib/fold.js";
import { PARAGRAPHS } from "../lib/handbook.js";
import { t } from "../lib/language.js";
import { placeWords, viewsOf } from "../lib/plant.js";
import { unitsShown } from "../lib/state.js";
import { sendWords, urgentWords, warnings } from "./frame.js";
import { draftRow } from "./drafts.js";
import { shape } from "./parts.js";

/** @import {Context, Screen, UnitView} from "../lib/shapes" */

/** @type {Screen} */
export const menuScreen = {
  path: "menu",
  open: true,
  live: true,
  page(context) {
    const { app, address, session, may } = context;
    const told = [...urgentWords(context), ...warnings(context)];
    const paragraph = PARAGRAPHS[context.before];
    const help = html`${
        paragraph
          ? html`<a class="button" href="${address("help", ...paragraph.split("/"))}">Help with that screen</a>`
          : ""
      }<a class="button" href="${address("help")}">Help: whom to call, cautions, signs</a>`;
    return {
      title: t`Menu`,
      body: html`${app.plant?.demo ? html`<p class="demo">Demo limits, not for use</p>` : ""}${told.map(
        (words) => html`<p class="warning">${shape("not_saved")} ${words}</p>`,
      )}
      ${
        session
          ? html`${app.drafts.map((draft) => draftRow(context, draft))}
              <div class="groups">
                ${unitsShown(app).map((unit) => inHand(context, unit))}
                <a class="button" href="${address("units")}">Units in work</a>
                <a class="button" href="${address("find")}">Find a unit</a>
                ${
                  may("station_passed")
                    ? html`<a class="button" href="${address("station")}">At a station: units that pass</a>`
                    : ""
                }
                <a class="button" href="${address("outbox")}">Outbox: ${sendWords(app)}</a>
                <a class="button" href="${address("settings")}">Settings</a>
                ${help}
              </div>`
          : html`<div class="groups">
              <a class="button" href="${address("sign-in")}">Sign in</a
              ><a class="button" href="${address("settings")}">Settings</a>${help}
            </div>`
      }`,
      actions: html`<button type="button" data-act="back">Back</button>`,
    };
  },
  acts: { back: ({ back }) => back() },
};

/**
 * @param {Context} context
 * @param {UnitView} unit
 */
function inHand({ app, address, session }, unit) {
  const begun = inspectionInHand(unit, session?.person.code ?? "");
  const first = begun && app.plant && viewsOf(app.plant, unit)[0]?.id;
  return first
    ? html`<a class="button" href="${address("unit", unit.chassis, "walk", first)}"
        >Go on: ${unit.shop_number} at ${placeWords(app.plant, begun.point)}</a
      >`
    : "";
}
