/** Correct or withdraw a recorded defect: a later fact with its reason; the first one stays in the record. */

import { fact, lotTyped } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { inWords, t } from "../lib/language.js";
import { save, unitOf } from "../lib/state.js";
import { typeOf, typesOf, zoneWords, zonesOf } from "../lib/plant.js";
import { isHeldCritical, severitiesFor, severityKeys, twinsFor, withdrawalBar } from "../lib/rules.js";
import { choices, chosen, gone, lotField, reasonChoices, severityMark, typed, valueOf } from "./parts.js";
import { whereDrawn } from "./where.js";

/** @import {Context, Defect, Fact, Plant, Screen, Severity} from "../lib/shapes" */

const REASONS = inWords(["Wrong type picked", "Wrong zone picked", "Severity seen better", "Note completed"]);
const WITHDRAW_REASONS = inWords(["Within the limit sample", "Recorded by mistake", "Same thing is on the list"]);

/** @type {Screen} */
export const correctScreen = {
  path: "unit/:chassis/correct/:defect",
  keeps: true,
  page(context) {
    const here = place(context);
    const { app, view, address, params, session } = context;
    if (!here || !app.plant) return gone(context);
    const { unit, defect } = here;
    const now = {
      zone: defect.zone,
      type: defect.type,
      severity: defect.severity,
      grade: defect.grade,
      note: defect.note,
      ...view.changes,
    };
    const severities = severitiesFor(app.plant, now.type, defect.severity, session?.person, now.type !== defect.type);
    if (!severities.includes(now.severity)) Object.assign(now, gravest(app.plant, severities));
    return {
      title: t`Correct`,
      body: html`<p class="value">${typeOf(app.plant, now.type)?.name ?? now.type}</p>
        <p>${zoneWords(app.plant, unit.model, now.zone)}</p>
        ${whereDrawn(app.plant, unit, { ...defect, ...now, mark: now.zone === defect.zone ? defect.mark : null })}
        <h2>Severity</h2>
        ${choices(
          "severity",
          t`Severity`,
          severityKeys(app.plant, severities).map(({ code, counts_as, grade }) => [
            code,
            severityMark(counts_as, app.plant, grade),
          ]),
          now.grade || now.severity,
          app.plant.severities?.length ? 2 : 3,
        )}
        ${
          severities.length === 1
            ? defect.severity === "critical"
              ? html`<p class="hint">Only the quality manager lowers a critical.</p>`
              : html`<p class="hint">This type is critical. Only the quality manager lowers a critical.</p>`
            : ""
        }
        <label class="field" for="type"
          >Type<select id="type" data-change="type">
            ${typesOf(app.plant, unit.model).map(
              (type) =>
                html`<option value="${type.code}" ${type.code === now.type ? html`selected` : ""}>
                  ${type.name}
                </option>`,
            )}
          </select></label
        >
        <label class="field" for="zone"
          >Zone<select id="zone" data-change="zone">
            ${zonesOf(app.plant, unit).map(
              (zone) =>
                html`<option value="${zone.key}" ${zone.key === now.zone ? html`selected` : ""}>
                  ${zoneWords(/** @type {Plant} */ (app.plant), unit.model, zone.key)}
                </option>`,
            )}
          </select></label
        >
        <label class="field" for="note"
          >Note<textarea id="note" data-input="note" rows="2" maxlength="900">${now.note}</textarea>
        </label>
        ${lotField(view.lot ?? defect.lot ?? "")}
        <h2>Why</h2>
        ${reasonChoices(
          "reason",
          "other",
          t`Why`,
          REASONS.map((each) => t(each)),
          view.reason ?? "",
        )}`,
      actions: html`<button type="button" class="main" data-act="save">Save the correction</button>
        <a class="button" href="${address("unit", params.chassis, "defect", params.defect)}">Back</a>`,
    };
  },
  acts: {
    severity(context, element) {
      const { app, view, redraw } = context;
      const all = app.plant ? severityKeys(app.plant, ["critical", "major", "minor"]) : [];
      const chosen = all.find((each) => each.code === element.dataset.value);
      view.changes = { ...view.changes, severity: chosen?.counts_as, grade: chosen?.grade };
      redraw();
    },
    type: (context, element) => set(context, "type", valueOf(element)),
    zone: (context, element) => set(context, "zone", valueOf(element)),
    note({ view }, element) {
      view.changes = { ...view.changes, note: valueOf(element) };
    },
    lot({ view }, element) {
      view.lot = valueOf(element);
    },
    reason: chosen("reason"),
    other: typed("reason"),
    async save(context) {
      const here = place(context);
      const { app, view, params, session, say } = context;
      if (!here || !app.plant) return;
      const wanted = { ...view.changes };
      const type = wanted.type ?? here.defect.type;
      const severities = severitiesFor(
        app.plant,
        type,
        here.defect.severity,
        session?.person,
        type !== here.defect.type,
      );
      if (!severities.includes(wanted.severity ?? here.defect.severity))
        Object.assign(wanted, gravest(app.plant, severities));
      const changes = Object.fromEntries(
        Object.entries(wanted).filter(([name, value]) => value && value !== /** @type {any} */ (here.defect)[name]),
      );
      // Which of the plant's own it is goes with which of the three: without it the server would take none.
      if (changes.severity && wanted.grade) changes.grade = wanted.grade;
      if (view.lot !== undefined && lotTyped(view.lot) !== (here.defect.lot ?? ""))
        changes.lot = lotTyped(view.lot) || null;
      if (wanted.note === "" && here.defect.note)
        return say({ text: t`A note is not taken out: write what is right in its place.`, shape: "not_saved" });
      if (!Object.keys(changes).length) return say({ text: t`Nothing is changed yet.` });
      if ((view.reason ?? "").length < 3) return say({ text: t`Choose why: a correction keeps its reason.` });
      await finish(
        context,
        fact(
          "defect_corrected",
          params.chassis,
          { defect: params.defect, changes, reason: view.reason },
          { deps: [params.defect] },
        ),
        t`Saved on phone: correction`,
        stops(app.plant, here.defect, changes) ? ["stop", params.defect] : [],
      );
    },
  },
};

/** @type {Screen} */
export const withdrawScreen = {
  path: "unit/:chassis/withdraw/:defect",
  keeps: true,
  page(context) {
    const here = place(context);
    const { app, view, address, params, session } = context;
    if (!here || !app.plant) return gone(context);
    const { unit, defect } = here;
    const me = session?.person;
    const bar = withdrawalBar(context, unit, defect);
    if (bar) return gone(context, bar);
    const held = isHeldCritical(defect, me);
    if (held) view.why = "duplicate";
    view.why ??= "not_a_defect";
    const others = twinsFor(unit, defect, me);
    return {
      title: t`Withdraw`,
      body: html`<p class="value">${typeOf(app.plant, defect.type)?.name ?? defect.type}</p>
        <p>${zoneWords(app.plant, unit.model, defect.zone)}</p>
        ${whereDrawn(app.plant, unit, defect)}
        <p>It leaves the open list when the server has taken this; the record keeps it with your name and reason.</p>
        <h2>Why</h2>
        ${choices("why", t`Why`, [.../** @type {[string, string][]} */ (held ? [] : [["not_a_defect", t`Not a defect`]]), ["duplicate", held ? t`Duplicate of another critical` : t`Duplicate of another`]], view.why)}
        ${held ? html`<p class="hint">Only the quality manager withdraws a critical as none.</p>` : ""}
        ${
          view.why === "duplicate"
            ? html`<h2>Of which</h2>
                ${
                  others.length
                    ? choices(
                        "of",
                        t`Of which`,
                        others.map((each) => [
                          each.id,
                          `${typeOf(/** @type {any} */ (app.plant), each.type)?.name ?? each.type}, ${each.finder}`,
                        ]),
                        view.of ?? "",
                      )
                    : html`<p>Nothing else is open on this unit.</p>`
                }`
            : ""
        }
        <h2>Reason</h2>
        ${reasonChoices(
          "reason",
          "other",
          t`Reason`,
          WITHDRAW_REASONS.map((each) => t(each)),
          view.reason ?? "",
        )}`,
      actions: html`<button type="button" class="main" data-act="save">Withdraw it</button>
        <a class="button" href="${address("unit", params.chassis, "defect", params.defect)}">Back</a>`,
    };
  },
  acts: {
    why: chosen("why"),
    of: chosen("of"),
    reason: chosen("reason"),
    other: typed("reason"),
    async save(context) {
      const { view, params, say } = context;
      if (view.why === "duplicate" && !view.of) return say({ text: t`Choose the defect that it doubles.` });
      if ((view.reason ?? "").length < 3) return say({ text: t`Choose a reason.` });
      const body = {
        defect: params.defect,
        why: view.why,
        reason: view.reason,
        duplicate_of: view.why === "duplicate" ? view.of : "",
      };
      await finish(
        context,
        fact("defect_withdrawn", params.chassis, body, { deps: [params.defect] }),
        t`Saved on phone: withdrawn, waits for the server's word`,
      );
    },
  },
};

/** @param {Context} context */
function place({ app, params }) {
  const unit = unitOf(app, params.chassis);
  const defect = unit?.defects.find((each) => each.id === params.defect);
  return unit && defect ? { unit, defect } : null;
}

/**
 * Whether a correction makes a defect one that stops the unit: then it takes the same steps as one found so.
 * @param {Plant} plant
 * @param {Defect} before
 * @param {Partial<Defect>} changes
 */
function stops(plant, before, changes) {
  const isStop = (/** @type {string} */ type, /** @type {string} */ severity) =>
    severity === "critical" || !!typeOf(plant, type)?.stop_unit;
  return (
    isStop(changes.type ?? before.type, changes.severity ?? before.severity) && !isStop(before.type, before.severity)
  );
}

/**
 * @param {Context} context
 * @param {string} field
 * @param {string} value
 */
function set({ view, redraw }, field, value) {
  view.changes = { ...view.changes, [field]: value };
  redraw();
}

/**
 * @param {Plant} plant
 * @param {Severity[]} severities
 */
function gravest(plant, severities) {
  const [{ counts_as, grade }] = severityKeys(plant, severities);
  return { severity: counts_as, grade };
}

/**
 * @param {Context} context
 * @param {Fact} changed
 * @param {string} words
 * @param {string[]} [next]  where on the unit it goes on
 */
async function finish({ app, params, sync, say, replace }, changed, words, next = []) {
  await save(app, [changed]);
  sync(changed.kind);
  say({ text: words, shape: "saved" });
  replace("unit", params.chassis, ...next);
}
