/** A defect before it is saved: severity, photos, origin and note are all set already or may be left. */

import { isFull } from "../lib/db.js";
import { fact, isLower, lotTyped, uuid7 } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { inspectionInHand, possibleTwins } from "../lib/fold.js";
import { inWords, t } from "../lib/language.js";
import { settle } from "../lib/outbox.js";
import { dropDraft, keepDraft, reloadOwn, save, unitOf, unitsShown } from "../lib/state.js";
import { cautionsFor, ownPoint, photoGuard, placesOf, typeOf, unknownOrigin, zoneOf, zoneWords } from "../lib/plant.js";
import { SEVERITY, named, within } from "../lib/words.js";
import { MANAGER, has, roleWords } from "../lib/roles.js";
import { severitiesFor, severityKeys } from "../lib/rules.js";
import {
  caution,
  choices,
  defectRow,
  gone,
  lotField,
  reasonChoices,
  severityMark,
  shape,
  toggled,
  valueOf,
} from "./parts.js";
import { photoButtons, photosOf, takePhoto } from "./photos.js";

/** @import {App, Context, Draft, Entry, Notice, Screen, Severity} from "../lib/shapes" */
/** @import {InRoles} from "../lib/roles.js" */

const LOWER_REASONS = inWords([
  "Slight, within the limit sample",
  "Hidden in use",
  "Easily put right, no effect in use",
]);

/** @type {Screen} */
export const draftScreen = {
  path: "unit/:chassis/draft/:draft",
  page(context) {
    const { app, address } = context;
    const here = place(context);
    if (!here) return gone(context, t`This defect is not open any more: it was saved or dropped.`);
    const { draft, unit, type, zone } = here;
    if (draft.person !== context.session?.person.code) return othersPage(context, here);
    const twins = possibleTwins(
      unit,
      draft,
      context.session?.person.code ?? "",
      (key) => (app.plant && zoneOf(app.plant, unit.model, key)) || undefined,
    );
    return {
      title: type.name,
      short: t`Defect`,
      body: html`<p class="strong">${zoneWords(here.plant, unit.model, draft.zone)}</p>
        <p>${unit.shop_number} · ${type.code}</p>
        ${cautionsFor(zone, type).map((code) => caution(context, code))}
        ${
          twins.length
            ? html`<section class="card" aria-label="Perhaps on the list already">
                <p class="strong">Perhaps on the list already:</p>
                <ul class="list">
                  ${twins.map((twin) => defectRow(context, unit, twin))}
                </ul>
                <button type="button" data-act="drop">It is that one: do not record</button>
              </section>`
            : ""
        }
        <h2>Severity</h2>
        ${severityChoices(here, context.session?.person)}${lowering(here, context.session?.person)}
        <h2>${type.photo_required ? t`Photo: asked for with this type` : t`Photo (optional)`}</h2>
        ${photoButtons(context, zone, type)}${photosOf(context, unit.chassis, draft.id, [])}
        ${draft.photo_problem ? html`<p class="warning">${shape("not_saved")} ${draft.photo_problem}</p>` : ""}
        ${draft.inspection ? "" : foundAt(here, context.now())}
        <h2>More (optional)</h2>
        <a class="row" href="${address("unit", unit.chassis, "origin", draft.id)}"
          ><span class="row-title">Suspected origin</span><span>${originWords(here)}</span></a
        >
        <label class="field" for="note"
          >${draft.not_on_list ? t`What it is (not on the list)` : t`Note`}
          <textarea id="note" data-input="note" rows="2" maxlength="900">${draft.note}</textarea>
        </label>
        ${lotField(draft.lot ?? "")}`,
      actions: html`<button type="button" class="main" data-act="save">${saveWords(context, here)}</button>
        <button type="button" data-act="drop">Do not record</button>`,
    };
  },
  acts: {
    severity: (context, element) => change(context, { ...severityFrom(context, element), severity_reason: "" }),
    lower: (context, element) => change(context, { severity_reason: element.dataset.value ?? "" }),
    point: (context, element) => change(context, { point: valueOf(element) }),
    reason: (context, element) => keep(context, { severity_reason: valueOf(element) }),
    note: (context, element) => keep(context, { note: valueOf(element) }),
    lot: (context, element) => keep(context, { lot: valueOf(element) }),
    checked: toggled("photo_allowed"),
    photo,
    save: saveDraft,
    async drop(context) {
      const here = place(context);
      if (!here) return;
      const { draft, unit, zone } = here;
      const bringBack = await dropDraft(context.app, draft.id);
      const undo = async (/** @type {Context} */ { go }) => {
        await bringBack();
        go("unit", unit.chassis, "draft", draft.id);
      };
      context.say({ text: t`Not recorded.`, buttons: [{ label: t`Undo`, run: undo }] });
      context.replace("unit", unit.chassis, "walk", zone.view);
    },
  },
};

/** @param {Context} context */
function place({ app, params }) {
  const draft = app.drafts.find((each) => each.id === params.draft);
  const unit = draft && unitOf(app, draft.unit);
  const plant = app.plant;
  const type = draft && plant && typeOf(plant, draft.type);
  const zone = draft && unit && plant && zoneOf(plant, unit.model, draft.zone);
  return draft && unit && type && zone && plant ? { draft, unit, type, zone, plant } : null;
}

/**
 * Who began a defect saves it: its author is part of the record.
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 */
function othersPage({ address }, { draft, unit, type, plant }) {
  return {
    title: type.name,
    short: t`Defect`,
    body: html`<p class="strong">${zoneWords(plant, unit.model, draft.zone)}</p>
      <p>${unit.shop_number}</p>
      <p class="warning">
        ${shape("not_saved")} ${draft.person} began this and has not saved it. Only ${draft.person} can: sign in as
        ${draft.person}. It stays on this phone. If you see the same, record it yourself.
      </p>`,
    actions: html`<a class="button main" href="${address("unit", unit.chassis, "zone", draft.zone)}"
        >Record it yourself</a
      >
      <a class="button" href="${address("unit", unit.chassis)}">Unit ${unit.shop_number}</a>`,
  };
}

/**
 * Where somebody without an inspection found it.
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {number} now
 */
function foundAt({ draft, plant }, now) {
  return html`<label class="field" for="point"
    >Found at<select id="point" data-change="point">
      ${draft.point ? "" : html`<option value="">Choose where you stand</option>`}
      ${placesOf(plant, now).map(
        (place) =>
          html`<option value="${place.id}" ${place.id === draft.point ? html`selected` : ""}>
            ${place.id} ${place.name}
          </option>`,
      )}
    </select></label
  >`;
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
function severityFrom({ app }, element) {
  const code = element.dataset.value ?? "";
  const own = app.plant?.severities?.find((each) => each.code === code);
  return own ? { severity: own.counts_as, grade: code } : { severity: /** @type {Severity} */ (code), grade: "" };
}

/**
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {InRoles} me
 */
function severityChoices({ draft, plant }, me) {
  const offered = severitiesFor(plant, draft.type, null, me, false);
  return html`${choices(
    "severity",
    t`Severity`,
    severityKeys(plant, offered).map(({ code, counts_as, grade }) => [code, severityMark(counts_as, plant, grade)]),
    draft.grade || draft.severity,
    plant.severities?.length ? 2 : 3,
  )}
  ${
    offered.length === 1
      ? html`<p class="hint">This type is critical. Only the quality manager lowers a critical.</p>`
      : ""
  }`;
}

/**
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @param {InRoles} me
 */
function lowering({ draft, type }, me) {
  if (!isLower(draft.severity, type.severity) || (type.severity === "critical" && !has(me, MANAGER))) return "";
  return html`<p class="strong">Lower than usual (${within(named(SEVERITY, type.severity))}): why?</p>
    ${reasonChoices(
      "lower",
      "reason",
      t`Why lower`,
      LOWER_REASONS.map((each) => t(each)),
      draft.severity_reason,
    )}`;
}

/** @param {NonNullable<ReturnType<typeof place>>} here */
function originWords({ draft, plant }) {
  if (!draft.suspected) return t`Not named: a good answer`;
  if (draft.suspected === unknownOrigin(plant)) return t`Don't know`;
  return `${draft.suspected} ${plant.stations.find((station) => station.id === draft.suspected)?.name ?? ""}`;
}

/**
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 */
function saveWords({ app }, { draft, type, zone, plant }) {
  const photos = app.captures.filter((each) => each.defect === draft.id).length;
  const expected = type.photo_required && !photos && !photoGuard(plant, cautionsFor(zone, type)).forbids;
  return expected ? t`Save, photo still to come` : t`Save`;
}

/**
 * @param {Context} context
 * @param {Partial<Draft>} changes
 */
async function change(context, changes) {
  await keep(context, changes);
  context.redraw();
}

/**
 * Typed text is kept without drawing anew: a redraw would take the button away from under the thumb.
 * @param {Context} context
 * @param {Partial<Draft>} changes
 */
async function keep(context, changes) {
  const here = place(context);
  if (here) await keepDraft(context.app, { ...here.draft, ...changes });
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function photo(context, element) {
  const here = place(context);
  if (!here) return;
  const problem = await takePhoto(context, element, { unit: here.unit.chassis, defect: here.draft.id });
  if (problem !== here.draft.photo_problem) await keepDraft(context.app, { ...here.draft, photo_problem: problem });
  context.redraw();
}

/**
 * What keeps a draft from being saved, in words, "" for nothing.
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 */
function lacking({ session }, { draft, type }) {
  const lowered = isLower(draft.severity, type.severity);
  if (lowered && type.severity === "critical" && !has(session?.person, MANAGER))
    return t`Only the quality manager lowers a critical. Raise it again, or ask.`;
  if (lowered && draft.severity_reason.length < 3) return t`Choose why it is lower than usual.`;
  if (!draft.point) return t`Choose where you found it.`;
  if (draft.not_on_list && draft.note.length < 3) return t`Write what it is: it is not on the list.`;
  return "";
}

/** @param {Context} context */
async function saveDraft(context) {
  const { app, say, sync, replace, view } = context;
  const here = place(context);
  if (!here || view.saving || here.draft.person !== context.session?.person.code) return;
  const { draft, unit, type, zone } = here;
  const problem = lacking(context, here);
  if (problem) return say({ text: problem, shape: "not_saved" });
  view.saving = true; // a second tap while the disk works must not record twice
  try {
    await save(app, factsOf(draft), { draft: draft.id });
  } catch (error) {
    app.not_saved = isFull(error)
      ? t`this phone is full. The draft is kept; sync so that sent photos can go, then save again.`
      : String(error);
    context.redraw();
    return say({ text: t`Not saved. Your draft is kept.`, shape: "not_saved" });
  } finally {
    view.saving = false;
  }
  if (draft.replaces !== null) {
    await settle(app.db, draft.replaces, `recorded again as ${draft.id}`);
    await reloadOwn(app);
  }
  sync("defect");
  say(savedNotice(context, here));
  if (draft.severity === "critical" || type.stop_unit) replace("unit", unit.chassis, "stop", draft.id);
  else replace("unit", unit.chassis, "walk", zone.view);
}

/** @param {Draft} draft */
function factsOf(draft) {
  const deps = draft.inspection ? [draft.inspection] : [];
  const note = draft.not_on_list ? t`Not on the list: ${draft.note}` : draft.note;
  const { point, zone, type, severity, inspection, severity_reason, mark, result } = draft;
  const lot = lotTyped(draft.lot ?? "");
  const own = { ...(draft.grade ? { grade: draft.grade } : {}), ...(lot ? { lot } : {}) };
  const facts = [
    fact(
      "defect_recorded",
      draft.unit,
      { point, zone, type, severity, inspection, note, severity_reason, mark, result, ...own },
      { id: draft.id, deps },
    ),
  ];
  if (draft.suspected)
    facts.push(
      fact("origin_suspected", draft.unit, { defect: draft.id, station: draft.suspected }, { deps: [draft.id] }),
    );
  return facts;
}

/**
 * What the server would refuse is not offered: a critical stands until the quality manager withdraws it.
 * @param {Context} context
 * @param {NonNullable<ReturnType<typeof place>>} here
 * @returns {Notice}
 */
function savedNotice({ session }, { draft, unit, type, zone }) {
  /** @param {Context} context */
  const undo = async ({ app, say, sync, go }) => {
    const body = { defect: draft.id, why: "not_a_defect", reason: t`Taken back by the finder right after saving` };
    await save(app, [fact("defect_withdrawn", unit.chassis, body, { deps: [draft.id] })]);
    sync("undo");
    say({
      text: t`Saved on phone: ${type.name} withdrawn. It waits for the server's word; the record keeps both.`,
      shape: "saved",
    });
    go("unit", unit.chassis, "walk", zone.view);
  };
  /** @param {Context} context */
  const again = ({ app, go }) => {
    app.again = type.code;
    go("unit", unit.chassis, "walk", zone.view);
  };
  const stops = draft.severity === "critical" || type.stop_unit;
  const undone = draft.severity !== "critical" || has(session?.person, MANAGER);
  return {
    text: undone
      ? t`Saved on phone: ${type.name}`
      : t`Saved on phone: ${type.name}. Only the quality manager withdraws a critical`,
    shape: "saved",
    buttons: [
      ...(undone ? [{ label: t`Undo`, run: undo }] : []),
      ...(stops ? [] : [{ label: t`Same again`, run: again }]),
    ],
  };
}

/**
 * Begin a defect: its draft is on the disk before anything else happens, the camera least of all.
 * @param {Context} context
 * @param {string} zone
 * @param {string} typeCode
 * @param {Partial<Draft>} [more]
 */
export async function startDraft(context, zone, typeCode, more = {}) {
  const { app, params, session, go, may_record, may, say, now } = context;
  const unit = unitOf(app, params.chassis);
  const type = app.plant && typeOf(app.plant, typeCode);
  if (!unit || !type || !session || !app.plant) return;
  if (!may_record) return say({ text: t`Read only. See Settings, install guide.` });
  if (!may("defect_recorded"))
    return say({
      text: t`As ${roleWords(session.person)} you record no defect. Tell an inspector.`,
    });
  const inspection = inspectionInHand(unit, session.person.code);
  /** @type {Draft} */
  const draft = {
    id: uuid7(),
    unit: unit.chassis,
    point: inspection?.point ?? ownPoint(app.plant, session.person, pointsOf(app, session.person.code), context.now()),
    inspection: inspection?.id ?? null,
    zone,
    type: type.code,
    severity: type.severity,
    grade: type.grade ?? "",
    severity_reason: "",
    note: "",
    suspected: "",
    mark: app.touched?.zone === zone ? app.touched.mark : null,
    not_on_list: false,
    photo_problem: "",
    person: session.person.code,
    begun_ms: now(),
    replaces: null,
    ...more,
  };
  await keepDraft(app, draft);
  go("unit", unit.chassis, "draft", draft.id);
}

/**
 * The points of a person's inspections on this phone's units, oldest first.
 * @param {App} app
 * @param {string} person
 */
function pointsOf(app, person) {
  const theirs = unitsShown(app).flatMap((unit) => unit.inspections.filter((each) => each.inspector === person));
  return theirs.sort((a, b) => a.begun_ms - b.begun_ms).map((each) => each.point);
}

/**
 * A refused defect as a draft that can be put right and sent again. What the server would refuse once more is raised.
 * @param {Context} context
 * @param {Entry} entry
 */
export function draftFrom(context, { seq, unit, op }) {
  const { app, params, session } = context;
  const { zone, type, note, lot, severity, grade, severity_reason, point, mark } = op.body;
  const known = app.plant && typeOf(app.plant, type);
  const view = unit ? unitOf(app, unit) : undefined;
  if (!unit || !view || !known) return undefined;
  params.chassis = unit;
  const inspection = view.inspections.find((each) => each.id === op.body.inspection);
  const lowered = known.severity === "critical" && !has(session?.person, MANAGER);
  return startDraft(context, zone, type, {
    note: note ?? "",
    lot: lot ?? "",
    mark: mark ?? null,
    severity: lowered ? "critical" : severity,
    grade: (lowered ? known.grade : grade) ?? "",
    severity_reason: severity_reason ?? "",
    replaces: seq,
    ...(inspection ? { inspection: inspection.id, point: inspection.point } : { point, inspection: null }),
  });
}
