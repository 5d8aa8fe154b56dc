/** A defect that was begun and not saved: whose it is, and the one tap to it. */

import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { typeOf, zoneWords } from "../lib/plant.js";
import { shape } from "./parts.js";

/** @import {Context, Draft} from "../lib/shapes" */

/**
 * @param {Context} context
 * @param {Draft} draft
 */
export function draftRow({ app, address, session }, draft) {
  const unit = app.units.get(draft.unit);
  if (!app.plant || !unit) return html``;
  const type = typeOf(app.plant, draft.type)?.name ?? draft.type;
  return html`<a class="row unfinished" href="${address("unit", draft.unit, "draft", draft.id)}">
    <span class="row-title"
      >${shape("not_saved")}
      ${draft.person === session?.person.code ? t`Not saved yet: ${type}` : t`Not saved yet: ${draft.person}'s, ${type}`}</span
    >
    <span>${unit.shop_number} · ${zoneWords(app.plant, unit.model, draft.zone)}</span>
  </a>`;
}

/**
 * This person's own drafts.
 * @param {Context} context
 */
export function ownDrafts({ app, session }) {
  return app.drafts.filter((draft) => draft.person === session?.person.code);
}
