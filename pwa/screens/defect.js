/** One recorded defect: how it stands, where it may come from, its next act. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { keepDraft, refusedOf, save, unitOf } from "../lib/state.js";
import { moment } from "../lib/clock.js";
import { cautionsFor, originsOf, placeWords, typeOf, unknownOrigin, zoneOf, zoneWords } from "../lib/plant.js";
import { DEFECT_STATE, ORIGIN_STATE, named } from "../lib/words.js";
import { withdrawalBar } from "../lib/rules.js";
import { caution, gone, said, severityMark, syncMark, toggled } from "./parts.js";
import { photoButtons, photosOf, takePhoto } from "./photos.js";
import { about, refusedActs, refusedCards } from "./refused.js";
import { whereDrawn } from "./where.js";

/** @import {Context, Defect, Screen, UnitView, Zone} from "../lib/shapes" */

/** @type {Screen} */
export const defectScreen = {
  path: "unit/:chassis/defect/:defect",
  live: true,
  page(context) {
    const { app, params, may_record } = context;
    const unit = unitOf(app, params.chassis);
    const defect = unit?.defects.find((each) => each.id === params.defect);
    const zone = unit && defect && app.plant && zoneOf(app.plant, unit.model, defect.zone);
    if (!unit || !defect || !app.plant || !zone) return refusedHere(context) ?? gone(context);
    const standing = defect.state === "open" || defect.state === "repaired";
    return {
      title: typeOf(app.plant, defect.type)?.name ?? defect.type,
      short: t`Defect`,
      body: html`<p class="strong">${zoneWords(app.plant, unit.model, defect.zone)}</p>
        ${whereDrawn(app.plant, unit, defect)}
        <p>
          ${severityMark(defect.severity, app.plant, defect.grade)}
          <span class="strong">${named(DEFECT_STATE, defect.state)}</span>
        </p>
        <p>${syncMark(defect.local ?? "sent")}</p>
        ${refusedCards(context, about(defect.id))}
        <p>
          ${unit.shop_number} · found by ${defect.finder} at ${placeWords(app.plant, defect.point)},
          ${moment(defect.found_ms, app.plant.time_zone)}
        </p>
        ${defect.lot ? html`<p>Lot of the part: ${defect.lot}</p>` : ""}
        ${defect.note ? html`<p>Note: ${defect.note}</p>` : ""} ${said(defect)}
        ${defect.repaired_by ? html`<p>Repaired by ${defect.repaired_by}. Another person re-checks.</p>` : ""}
        ${defect.cycles ? html`<p class="strong">Failed re-check: ${defect.cycles}</p>` : ""}
        ${
          defect.changed_also_by.length
            ? html`<p class="strong">
                Also changed by ${defect.changed_also_by.join(", ")}: the last at the server is shown.
              </p>`
            : ""
        }
        <p>
          Origin: ${placeWords(app.plant, defect.confirmed ?? defect.suspected)}
          ${named(ORIGIN_STATE, defect.origin_state)}
        </p>
        ${cautionsFor(zone, typeOf(app.plant, defect.type)).map((code) => caution(context, code))}
        ${photosOf(context, unit.chassis, defect.id, defect.photos, defect.circles)}
        ${may_record && standing ? furtherActs(context, unit, defect, zone) : ""}`,
      actions: html`${may_record ? nextAct(context, unit, defect) : ""}
        <a class="button" href="${context.address("unit", unit.chassis)}">Unit ${unit.shop_number}</a>`,
    };
  },
  acts: {
    ...refusedActs,
    checked: toggled("photo_allowed"),
    async photo(context, element) {
      await takePhoto(context, element, { unit: context.params.chassis, defect: context.params.defect });
      context.sync("photo");
      context.redraw();
    },
  },
};

/**
 * A defect that the server refused is on no list any more: what was said of it is told at its own address.
 * @param {Context} context
 */
function refusedHere(context) {
  const { app, params, address } = context;
  const unit = app.units.get(params.chassis);
  if (!unit || !refusedOf(app).some(({ entry }) => about(params.defect)(entry))) return null;
  return {
    title: t`Refused · ${unit.shop_number}`,
    body: refusedCards(context, about(params.defect)),
    actions: html`<a class="button" href="${address("unit", unit.chassis)}">Unit ${unit.shop_number}</a>`,
  };
}

/**
 * What this person may add to a standing defect.
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Defect} defect
 * @param {Zone} zone
 */
function furtherActs(context, unit, defect, zone) {
  const { app, may, address } = context;
  const to = (/** @type {string} */ where, /** @type {string} */ words) =>
    html`<a class="button" href="${address("unit", unit.chassis, where, defect.id)}">${words}</a>`;
  const why = may("defect_withdrawn") ? withdrawalBar(context, unit, defect) : "";
  return html`${
      may("photo_attached")
        ? html`<h2>Add a photo</h2>
            ${photoButtons(context, zone, app.plant ? typeOf(app.plant, defect.type) : undefined)}`
        : ""
    }
    <div class="groups">
      ${may("origin_suspected") ? to("origin", t`Suspected origin`) : ""}${may("defect_corrected") ? to("correct", t`Correct`) : ""}
      ${may("defect_withdrawn") && !why ? to("withdraw", t`Withdraw`) : ""}
    </div>
    ${why ? html`<p class="hint">${why}</p>` : ""}`;
}

/**
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Defect} defect
 */
function nextAct({ session, address, may }, unit, defect) {
  if (defect.state === "open" && may("repair_done")) {
    return html`<a class="button main" href="${address("unit", unit.chassis, "repair", defect.id)}">Repair done</a>`;
  }
  if (defect.state !== "repaired" || !may("recheck_accepted")) return "";
  if (defect.repaired_by === session?.person.code)
    return html`<p class="strong">You repaired it: another person must re-check it.</p>`;
  return html`<a class="button main" href="${address("unit", unit.chassis, "recheck", defect.id)}">Re-check</a>`;
}

/**
 * Suspected origin: only what stands upstream of where it was found; "don't know" is a good answer.
 * @type {Screen}
 */
export const originScreen = {
  path: "unit/:chassis/origin/:defect",
  page(context) {
    const { app, params, view } = context;
    const subject = subjectOf(context);
    const unit = unitOf(app, params.chassis);
    if (!subject || !unit || !app.plant) return gone(context);
    const origins = originsOf(app.plant, subject.point, unit, subject.type);
    const usual = typeOf(app.plant, subject.type)?.origins ?? [];
    const first = origins.filter((each) => usual.includes(each.id));
    const shown = view.all || !first.length ? origins : first;
    return {
      title: t`Origin`,
      body: html`<p>
          ${typeOf(app.plant, subject.type)?.name ?? ""}, found at ${placeWords(app.plant, subject.point)}. A guess; its
          lead confirms or passes it on.
        </p>
        <div class="groups">
          ${shown.map(
            (each) =>
              html`<button
                type="button"
                data-act="origin"
                data-value="${each.id}"
                aria-pressed="${each.id === subject.suspected ? "true" : "false"}"
              >
                ${each.id} ${each.name}
              </button>`,
          )}
          ${
            shown.length < origins.length
              ? html`<button type="button" data-act="all">
                  Other places upstream (${origins.length - shown.length})
                </button>`
              : ""
          }
        </div>`,
      actions: html`<button type="button" class="main" data-act="origin" data-value="${unknownOrigin(app.plant)}">
          Don't know</button
        ><button type="button" data-act="leave">Back</button>`,
    };
  },
  acts: {
    all: toggled("all"),
    leave: ({ back }) => back(),
    origin: chooseOrigin,
  },
};

/** @param {Context} context */
function subjectOf({ app, params }) {
  return (
    app.drafts.find((each) => each.id === params.defect) ??
    unitOf(app, params.chassis)?.defects.find((each) => each.id === params.defect)
  );
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function chooseOrigin({ app, params, back, sync, say }, element) {
  const station = element.dataset.value ?? "";
  const draft = app.drafts.find((each) => each.id === params.defect);
  if (draft) {
    await keepDraft(app, { ...draft, suspected: station });
  } else {
    await save(app, [
      fact("origin_suspected", params.chassis, { defect: params.defect, station }, { deps: [params.defect] }),
    ]);
    sync("origin");
    say({ text: t`Saved on phone: suspected origin`, shape: "saved" });
  }
  back();
}
