/** The rest of a view, asked by number and name before it is marked as looked at. */

import { wasInFront } from "../lib/front.js";
import { html } from "../lib/html.js";
import { inspectionInHand, lookOf } from "../lib/fold.js";
import { counted, t } from "../lib/language.js";
import { shortName, zonesOf } from "../lib/plant.js";
import { unitOf } from "../lib/state.js";
import { markLooked } from "./looked.js";
import { gone, shape } from "./parts.js";

/** @import {Context, Screen} from "../lib/shapes" */

/** @type {Screen} */
export const restScreen = {
  path: "unit/:chassis/rest/:view",
  live: true,
  page(context) {
    const here = place(context);
    if (!here) return gone(context, t`No inspection of yours is open on this unit.`);
    const { unit, view, rest, inspection } = here;
    const seconds = Math.round(wasInFront(context.app, `${inspection.id} ${view.id}`) / 1000);
    return {
      title: t`${unit.shop_number} rest of ${shortName(view)}`,
      body: html`${
        rest.length
          ? html`<p class="value">
                ${counted(rest.length, "Did you look at this 1 zone, and found nothing?", "Did you look at each of these {0} zones, and found nothing?")}
              </p>
              <p>
                This view was in front of you for ${seconds < 100 ? `${seconds} s` : `${Math.round(seconds / 60)} min`}.
              </p>
              <ul class="list">
                ${rest.map((zone) => html`<li class="plain">${shape("none")} ${zone.name}</li>`)}
              </ul>
              <button type="button" class="main" data-act="rest">Yes, I looked at all ${rest.length}: clean</button>`
          : html`<p class="value">Every zone of this view is marked.</p>`
      }`,
      actions: html`<a class="button" href="${context.address("unit", unit.chassis, "walk", view.id)}"
        >Back to the drawing</a
      >`,
    };
  },
  acts: {
    async rest(context) {
      const here = place(context);
      if (!here) return;
      await markLooked(context, here.unit, here.inspection, here.rest);
      context.replace("unit", here.unit.chassis, "walk", here.view.id);
    },
  },
};

/** @param {Context} context */
function place({ app, params, session }) {
  const unit = unitOf(app, params.chassis);
  const inspection = unit && inspectionInHand(unit, session?.person.code ?? "");
  const view = app.plant?.views.find((each) => each.id === params.view);
  if (!unit || !inspection || !app.plant || !view) return null;
  const rest = zonesOf(app.plant, unit, view.id).filter((zone) => lookOf(unit, inspection, zone.key).state === "none");
  return { unit, inspection, view, rest };
}
