/** All types, found in plain words or by their group. */

import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { searchTypes } from "../lib/type-search.js";
import { typesOf, zoneWords } from "../lib/plant.js";
import { unitOf } from "../lib/state.js";
import { startDraft } from "./draft.js";
import { noUnit, toggled } from "./parts.js";
import { typeButton } from "./zone.js";

/** @import {Screen, Type} from "../lib/shapes" */

/** @type {Screen} */
export const searchScreen = {
  path: "unit/:chassis/search/:zone",
  page(context) {
    const { app, params, view, address } = context;
    const unit = unitOf(app, params.chassis);
    if (!unit || !app.plant) return noUnit(context);
    view.said ??= "";
    const types = typesOf(app.plant, unit.model);
    return {
      title: view.other ? t`Not on the list` : t`All types`,
      body: html`<p class="strong">${zoneWords(app.plant, unit.model, params.zone)}</p>
        ${
          view.other
            ? html`<p>
                Take the nearest type. On the next page write what it is: it is kept with the defect and the list is
                reviewed weekly.
              </p>`
            : ""
        }
        <label class="field" for="said"
          >Say it in plain words
          <input
            id="said"
            data-input="said"
            value="${view.said}"
            inputmode="search"
            enterkeyhint="search"
            autocomplete="off"
            maxlength="60"
          />
        </label>
        ${view.said ? results(searchTypes(types, view.said)) : groups(types, view)}`,
      actions: html`${view.other ? "" : html`<button type="button" data-act="other">Not on the list</button>`}
        <a class="button" href="${address("unit", unit.chassis, "zone", params.zone)}">Back to the zone</a>`,
    };
  },
  acts: {
    said({ view, redraw }, element) {
      view.said = /** @type {HTMLInputElement} */ (element).value;
      redraw();
    },
    group({ view, redraw }, element) {
      view.group = element.dataset.value === view.group ? "" : element.dataset.value;
      redraw();
    },
    other: toggled("other"),
    type: (context, element) =>
      startDraft(context, context.params.zone, element.dataset.value ?? "", { not_on_list: !!context.view.other }),
  },
};

/** @param {Type[]} types */
function results(types) {
  if (!types.length) return html`<p>Nothing found. Try another word, or take "Not on the list".</p>`;
  return html`<div class="types" role="group" aria-label="Types found">${types.slice(0, 12).map(typeButton)}</div>`;
}

/**
 * @param {Type[]} types
 * @param {Record<string, any>} view
 */
function groups(types, view) {
  const names = new Map(types.map((type) => [type.group, type.group_name]));
  return html`<div class="groups">
    ${[...names].map(
      ([group, name]) =>
        html`<button
            type="button"
            data-act="group"
            data-value="${group}"
            aria-expanded="${view.group === group ? "true" : "false"}"
          >
            ${name}
          </button>
          ${
            view.group === group
              ? html`<div class="types" role="group" aria-label="${name}">
                  ${types.filter((type) => type.group === group).map(typeButton)}
                </div>`
              : ""
          }`,
    )}
  </div>`;
}
