/** A defect's repair and its re-check by another person. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { save, unitOf } from "../lib/state.js";
import { typeOf, zoneWords } from "../lib/plant.js";
import { DEFECT_STATE, named } from "../lib/words.js";
import { choices, chosen, gone, said, toggled, typed } from "./parts.js";
import { photosOf } from "./photos.js";
import { whereDrawn } from "./where.js";

/** @import {Context, Fact, Screen} from "../lib/shapes" */

const MINUTES = ["5", "10", "15", "20", "30", "45", "60", "90", "120", "180"];

/** @type {Screen} */
export const repairScreen = {
  path: "unit/:chassis/repair/:defect",
  keeps: true,
  page(context) {
    const here = place(context);
    if (!here) return gone(context);
    if (isSettled(here)) return gone(context, t`No repair is due any more: ${named(DEFECT_STATE, here.defect.state)}.`);
    const { view, address, params } = context;
    view.method ??= "rework";
    view.minutes ??= "";
    return {
      title: t`Repair done`,
      body: html`${here.readBack}
        <h2>What was done</h2>
        ${choices(
          "method",
          t`What was done`,
          [
            ["rework", t`Rework: meets the requirement`],
            ["repair", t`Repair: usable, not to the requirement`],
          ],
          view.method,
        )}
        ${
          view.method === "repair"
            ? html`<p class="warning">
                Short of the requirement it needs a concession by a named approver. This version cannot record one yet:
                it blocks the release.
              </p>`
            : ""
        }
        <h2>Minutes</h2>
        ${choices(
          "minutes",
          t`Minutes`,
          MINUTES.map((each) => [each, each]),
          view.minutes,
          4,
        )}
        <label class="field" for="note"
          >Note (optional)<textarea id="note" data-input="note" rows="2" maxlength="900">${view.note ?? ""}</textarea>
        </label>`,
      actions: html`<button type="button" class="main" data-act="done">
          ${view.minutes ? t`Save: repair done` : t`Choose the minutes first`}
        </button>
        <a class="button" href="${address("unit", params.chassis, "defect", params.defect)}">Back</a>`,
    };
  },
  acts: {
    method: chosen("method"),
    minutes: chosen("minutes"),
    note: typed("note"),
    async done(context) {
      const { view, params, say } = context;
      if (isSettled(place(context))) return context.redraw();
      if (!view.minutes) return say({ text: t`Choose the minutes: they are part of the record.` });
      const body = { defects: [params.defect], method: view.method, minutes: Number(view.minutes), note: view.note };
      await finish(
        context,
        fact("repair_done", params.chassis, body, { deps: [params.defect] }),
        t`Saved on phone: repair done, waits for the re-check`,
      );
    },
  },
};

/** @type {Screen} */
export const recheckScreen = {
  path: "unit/:chassis/recheck/:defect",
  keeps: true,
  page(context) {
    const here = place(context);
    if (!here) return gone(context);
    if (!isRepaired(here)) return gone(context, t`No re-check is due: ${named(DEFECT_STATE, here.defect.state)}.`);
    const { view, address, params, session } = context;
    const own = here.defect.repaired_by === session?.person.code;
    return {
      title: t`Re-check`,
      body: html`${here.readBack}
        <p>Repaired by ${here.defect.repaired_by ?? t`nobody yet`}.</p>
        ${own ? html`<p class="warning">You repaired it: another person must re-check it.</p>` : ""}
        ${
          view.failed
            ? html`<label class="field" for="reason"
                >What is still wrong<textarea id="reason" data-input="reason" rows="2" maxlength="400">
${view.reason ?? ""}</textarea>
              </label>`
            : ""
        }`,
      actions: own
        ? html`<a class="button" href="${address("unit", params.chassis, "defect", params.defect)}">Back</a>`
        : view.failed
          ? html`<button type="button" class="main" data-act="fail">Save: failed re-check</button>
              <button type="button" data-act="failed">Back</button>` // the form is kept: a slip would stand for hours
          : html`<button type="button" class="main" data-act="accept">Looked again: accepted</button>
              <button type="button" data-act="failed">Failed</button>
              <a class="button" href="${address("unit", params.chassis, "defect", params.defect)}">Back</a>`,
    };
  },
  acts: {
    failed: toggled("failed"),
    reason: typed("reason"),
    accept(context) {
      const { chassis, defect } = context.params;
      if (!isRepaired(place(context))) return context.redraw();
      return finish(
        context,
        fact("recheck_accepted", chassis, { defect }, { deps: [defect] }),
        t`Saved on phone: accepted on re-check, waits for the server's word`,
      );
    },
    fail(context) {
      const { view, params, say, redraw } = context;
      if (!isRepaired(place(context))) return redraw();
      if ((view.reason ?? "").length < 3) return say({ text: t`Write what is still wrong: the repairer needs it.` });
      return finish(
        context,
        fact(
          "recheck_failed",
          params.chassis,
          { defect: params.defect, reason: view.reason },
          { deps: [params.defect] },
        ),
        t`Saved on phone: failed re-check`,
      );
    },
  },
};

/** @typedef {ReturnType<typeof place>} Here */

/**
 * Another phone may have settled it while the form was open: a repair more would open it again.
 * @param {Here} here
 */
function isSettled(here) {
  return here?.defect.state === "closed" || here?.defect.state === "withdrawn";
}

/**
 * Accepted by another it may still be failed; open again, or withdrawn, nobody looks again.
 * @param {Here} here
 */
function isRepaired(here) {
  return here?.defect.state === "repaired" || here?.defect.state === "closed";
}

/** @param {Context} context */
function place(context) {
  const { app, params } = context;
  const unit = unitOf(app, params.chassis);
  const defect = unit?.defects.find((each) => each.id === params.defect);
  if (!unit || !defect || !app.plant) return null;
  const readBack = html`<p class="value">${typeOf(app.plant, defect.type)?.name ?? defect.type}</p>
    <p>${unit.shop_number} · ${zoneWords(app.plant, unit.model, defect.zone)}</p>
    ${whereDrawn(app.plant, unit, defect)}${defect.note ? html`<p>Note: ${defect.note}</p>` : ""}${said(defect)}
    ${photosOf(context, unit.chassis, defect.id, defect.photos, defect.circles)}`;
  return { unit, defect, readBack };
}

/**
 * @param {Context} context
 * @param {Fact} done
 * @param {string} words
 */
async function finish({ app, params, sync, say, replace }, done, words) {
  await save(app, [done]);
  sync(done.kind);
  say({ text: words, shape: "saved" });
  replace("unit", params.chassis, "defect", params.defect);
}
