/** Where a unit stands now: one of the places that were told of late, or another in a person's own words. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { save, unitOf, unitsShown } from "../lib/state.js";
import { gone, identity, reasonChoices, valueOf } from "./parts.js";

/** @import {App, Screen} from "../lib/shapes" */

const PLACES = 8;
const MOST = 60;

/** @type {Screen} */
export const placeScreen = {
  path: "unit/:chassis/place",
  keeps: true,
  page(context) {
    const { app, params, view, address, may } = context;
    const unit = unitOf(app, params.chassis);
    if (!unit) return gone(context);
    return {
      title: t`Where it stands`,
      short: unit.shop_number,
      body: html`${identity(app, unit)}
      ${unit.place ? html`<p>Told before: ${unit.place.place}, by ${unit.place.by}.</p>` : ""}
      ${reasonChoices("place", "other", t`Places told of late`, placesTold(app), view.place ?? "", t`Another place`, MOST)}`,
      actions: html`${
          may("unit_moved")
            ? html`<button type="button" class="main" data-act="tell">Save where it stands</button>`
            : html`<p class="strong">Your role reads here and moves no unit.</p>`
        } <a class="button" href="${address("unit", unit.chassis)}">Back</a>`,
    };
  },
  acts: {
    place({ view, redraw }, element) {
      view.place = element.dataset.value;
      redraw();
    },
    other({ view }, element) {
      view.place = valueOf(element);
    },
    async tell({ app, view, params, say, sync, replace }) {
      const place = (view.place ?? "").trim().replace(/\s+/g, " ");
      if (!place) return say({ text: t`Choose the place, or write it, such as Bay 4.` });
      await save(app, [fact("unit_moved", params.chassis, { place })]);
      sync("unit_moved");
      say({ text: t`Saved on phone: stands at ${place}`, shape: "saved" });
      return replace("unit", params.chassis);
    },
  },
};

/**
 * Places of the units on this phone, those told last first.
 * @param {App} app
 */
function placesTold(app) {
  const told = unitsShown(app).flatMap((unit) => (unit.place ? [unit.place] : []));
  return [...new Set(told.sort((a, b) => b.moved_ms - a.moved_ms).map((each) => each.place))].slice(0, PLACES);
}
