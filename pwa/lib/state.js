/** What the app knows now, and how it changes. Screens read it; only this module and sync write it. */

import { ask, read, readAll, readKeys, transact, write } from "./db.js";
import { circleWithin, keepCircle } from "./circles.js";
import { language, t } from "./language.js";
import { captureOf, keepReadable } from "./photo.js";
import { numbersOf } from "./chassis.js";
import { overlay } from "./fold.js";
import { history } from "./likely.js";
import { loadOutbox, record, unsent } from "./outbox.js";
import { inOwnWords } from "./plant-names.js";
import { present } from "./session.js";
import { layBallast, putSettings, withReserve } from "./settings.js";

/** @import {App, Capture, Circle, Draft, Entry, Fact, Maker, Own, Seal, Settings, UnitView, Verdict} from "./shapes" */

/**
 * @param {IDBDatabase} db
 * @param {Settings} settings
 * @returns {App}
 */
export function newApp(db, settings) {
  return {
    db,
    settings,
    plant: null,
    told_plant: null,
    worded: null,
    units: new Map(),
    entries: [],
    verdicts: new Map(),
    drafts: [],
    captures: [],
    photos: new Set(),
    sent_photos: new Set(),
    refused_photos: new Map(),
    sync: { online: false, running: false, problem: "" },
    worker: { active: false, waiting: false, failed: "" },
    storage: { persisted: null, free_bytes: null },
    history: new Map(),
    again: "",
    touched: null,
    not_saved: "",
    front: { ms: new Map(), key: "", at: 0 },
  };
}

/**
 * Give the plant its names in the language spoken; once for each language and each plant.
 * @param {App} app
 */
export function wordPlant(app) {
  if (app.worded?.plant === app.told_plant && app.worded?.tag === language()) return;
  app.worded = { plant: app.told_plant, tag: language() };
  app.plant = app.told_plant && inOwnWords(app.told_plant);
}

/**
 * Read everything that the screens show from the disk.
 * @param {App} app
 */
export async function reload(app) {
  const [plant, units] = await Promise.all([read(app.db, "plant", "plant"), readAll(app.db, "units")]);
  app.told_plant = plant?.value ?? null;
  wordPlant(app);
  app.units = new Map(units.map((unit) => [unit.chassis, unit]));
  if (app.plant) app.history = history(app.plant, app.units.values());
  await reloadOwn(app);
}

/**
 * Hold what was met on this phone before the server told of it, until it does or refuses it.
 * @param {App} app
 */
function holdMet(app) {
  for (const { kind, seq, op } of app.entries) {
    const model = app.plant?.models.find((each) => each.code === op.body.model);
    if (kind !== "unit_met" || !model || app.units.has(op.unit)) continue;
    const numbers = numbersOf(op.unit, model, app.plant?.numbers);
    if (numbers && !WITHOUT_EFFECT.includes(app.verdicts.get(seq)?.verdict ?? ""))
      app.units.set(op.unit, metUnit(op.unit, model.code, op.body.line ?? "", numbers));
  }
}

/**
 * @param {string} chassis
 * @param {string} model
 * @param {string} line
 * @param {{sequence: number, shop_number: string}} numbers
 * @returns {UnitView}
 */
function metUnit(chassis, model, line, numbers) {
  const what = t`no plan holds the unit: what it is to be is not known; a planner plans it first`;
  return {
    chassis,
    ...numbers,
    model,
    options: [],
    line,
    state: "planned",
    alarm: "",
    last_number: 0,
    unplanned: true,
    inspections: [],
    defects: [],
    tests: [],
    results: [],
    blockers: [{ code: "unplanned", what, ref: "" }],
    release: null,
    open_digest: "",
  };
}

/** Counts this page's own writes: what was read from the disk while one went on is read again. */
let writes = 0;

/**
 * Do a write of this page's own.
 * @template T
 * @param {() => Promise<T>} work
 */
export async function writing(work) {
  writes += 1;
  try {
    return await work();
  } finally {
    writes += 1;
  }
}

/**
 * Read this phone's own records from the disk.
 * @param {App} app
 */
export async function reloadOwn(app) {
  let before, own;
  do {
    before = writes;
    own = await readOwn(app);
  } while (before !== writes);
  Object.assign(app, own);
  holdMet(app);
}

/** @param {App} app */
async function readOwn({ db, settings }) {
  const { entries, verdicts } = await loadOutbox(db);
  const uploads = await readAll(db, "uploads");
  return {
    entries,
    verdicts,
    drafts: await readAll(db, "drafts"),
    captures: (await readKeys(db, "captures")).map(captureOf),
    photos: new Set((await readKeys(db, "photos")).map(String)),
    sent_photos: new Set(
      uploads.filter((each) => each.epoch === settings.server_epoch && !each.refused).map((each) => each.sha256),
    ),
    refused_photos: new Map(uploads.flatMap((each) => (each.refused ? [[each.sha256, each.refused]] : []))),
  };
}

/**
 * A unit with what this phone has recorded of it laid over the server's view; undefined where the phone holds none.
 * @param {App} app
 * @param {string} chassis
 */
export function unitOf(app, chassis) {
  const view = app.units.get(chassis);
  return view && overlay(view, ownOf(app, view), app.plant);
}

/**
 * @param {App} app
 * @param {UnitView} view
 * @returns {Own[]}
 */
function ownOf(app, view) {
  /** @type {Own[]} */
  const own = [];
  for (const entry of byUnit(app.entries).get(view.chassis) ?? []) {
    const verdict = app.verdicts.get(entry.seq);
    const isSaved = !verdict || verdict.epoch !== app.settings.server_epoch;
    const isAhead = verdict?.verdict === "applied" && (verdict.number ?? 0) > view.last_number;
    if (isSaved || isAhead) own.push({ op: entry.op, local: isSaved ? "saved" : "sent" });
  }
  return own;
}

/** @type {WeakMap<Entry[], Map<string | null, Entry[]>>} */
const grouped = new WeakMap();

/** @param {Entry[]} entries  never changed in place, so one grouping serves until the next save */
function byUnit(entries) {
  const known = grouped.get(entries);
  if (known) return known;
  /** @type {Map<string | null, Entry[]>} */
  const groups = new Map();
  for (const entry of entries) groups.set(entry.unit, [...(groups.get(entry.unit) ?? []), entry]);
  grouped.set(entries, groups);
  return groups;
}

/** @param {App} app */
export function unitsShown(app) {
  return [...app.units.keys()].map((chassis) => /** @type {UnitView} */ (unitOf(app, chassis)));
}

/**
 * What is not at the server yet. waiting: there, and without effect until what they rest on has come; oldest_ms: when
 * the oldest unsent one was saved, null for none.
 * @param {App} app
 */
export function unsentOf(app) {
  const records = unsent(app.entries, app.verdicts, app.settings.server_epoch);
  const photos = [...app.photos].filter((sha) => !app.sent_photos.has(sha)).length + app.captures.length;
  const waiting = app.entries.filter((each) => app.verdicts.get(each.seq)?.verdict === "parked").length;
  return { records, photos, waiting, oldest_ms: records[0]?.saved_ms ?? null };
}

const WITHOUT_EFFECT = ["refused", "quarantined", "id_reused"];

/** @type {WeakMap<Map<number, Verdict>, {entries: Entry[], refused: {entry: Entry, verdict: Verdict}[]}>} */
const refusals = new WeakMap();

/**
 * Records that the server did not take into effect and that nobody has settled: neither a person, nor a later record
 * that says the same thing of the same subject.
 * @param {App} app
 */
export function refusedOf({ entries, verdicts }) {
  const known = refusals.get(verdicts);
  if (known?.entries === entries) return known.refused; // neither is changed in place
  const refused = entries.flatMap((entry, place) => {
    const verdict = verdicts.get(entry.seq);
    if (!verdict || !WITHOUT_EFFECT.includes(verdict.verdict) || verdict.settled) return [];
    const subject = subjectOf(entry);
    const isSaidAgain = subject && entries.slice(place + 1).some((later) => subjectOf(later) === subject);
    return isSaidAgain ? [] : [{ entry, verdict }];
  });
  refusals.set(verdicts, { entries, refused });
  return refused;
}

/**
 * What a record speaks of, "" where a later one of its kind speaks of something else.
 * @param {Entry} entry
 */
function subjectOf({ kind, unit, op }) {
  const { defect, defects, test, zone, inspection, station } = op.body;
  if (kind === "unit_released") return `${kind} ${unit}`;
  if (kind === "station_passed") return `${kind} ${unit} ${station}`;
  const subject = kind.startsWith("zone_") ? zone && `${inspection} ${zone}` : (defects ?? [defect ?? test])[0];
  return subject && kind !== "defect_recorded" && kind !== "photo_attached" ? `${kind} ${unit} ${subject}` : "";
}

/**
 * Who records now, on which installation, by which of the plant's tables.
 * @param {App} app
 * @param {string} [plant]  the revision that it was begun under, that in hand where it is not told
 * @returns {Maker}
 */
export function makerOf(app, plant = app.plant?.revision) {
  const session = present(app.settings);
  if (!session) throw new Error(t`nobody is signed in on this phone`);
  return {
    device: app.settings.device,
    install_epoch: app.settings.install_epoch,
    author: session.person.code,
    session: session.session,
    seen_through: app.settings.pulled_through,
    plant,
  };
}

/**
 * Record facts; resolves when they are on the disk and the app shows them.
 * @param {App} app
 * @param {Fact[]} facts
 * @param {{draft?: string, seal?: Seal}} [extras]
 */
export async function save(app, facts, extras = {}) {
  const begun = app.drafts.find((draft) => draft.id === extras.draft)?.plant;
  const entries = await writing(() => record(app.db, makerOf(app, begun), facts, extras));
  app.entries = [...app.entries.filter((each) => each.seq < entries[0].seq), ...entries];
  if (extras.draft) app.drafts = app.drafts.filter((draft) => draft.id !== extras.draft);
  app.not_saved = "";
  holdMet(app);
  return entries;
}

/**
 * Keep a draft: in this page at once, so that the next key stroke builds on it, and on the disk when this resolves. A
 * full phone gives up its reserve for it. It names the tables under which its place and type were chosen.
 * @param {App} app
 * @param {Draft} kept
 */
export async function keepDraft(app, kept) {
  const before = app.drafts.find((each) => each.id === kept.id);
  const isSame = before && before.zone === kept.zone && before.type === kept.type;
  const draft = { ...kept, plant: isSame ? before.plant : app.plant?.revision };
  app.drafts = [...app.drafts.filter((each) => each.id !== draft.id), draft];
  await writing(() => withReserve(app.db, () => write(app.db, "drafts", draft)));
}

/**
 * Keep a photo as it arrived; resolves when the disk holds it. A photo never takes the room that is kept for text.
 * @param {App} app
 * @param {Capture} capture
 */
export async function addCapture(app, capture) {
  await layBallast(app.db);
  await writing(() => keepReadable(app.db, capture));
  const others = app.captures.filter((each) => each.id !== capture.id);
  app.captures = [...others, captureOf(capture.id)].sort((a, b) => (a.id < b.id ? -1 : 1)); // as the disk has them
}

/**
 * Circle the flaw on a photo that is not sent yet; null takes the circle away.
 * @param {App} app
 * @param {string} capture  id
 * @param {Circle | null} circle
 */
export async function circleCapture(app, capture, circle) {
  app.settings.circles = await withReserve(app.db, () => keepCircle(app.db, capture, circle));
}

/**
 * Drop a photo that was taken for a draft; resolves with it, so that it can be brought back.
 * @param {App} app
 * @param {string} id
 * @returns {Promise<Capture | undefined>}
 */
export async function dropCapture(app, id) {
  const capture = await read(app.db, "captures", id);
  await writing(() => transact(app.db, ["captures", "settings"], (tx) => forgetCapture(tx, id)));
  app.captures = app.captures.filter((each) => each.id !== id);
  return capture;
}

/**
 * @param {IDBTransaction} tx
 * @param {string} id
 */
async function forgetCapture(tx, id) {
  await ask(tx.objectStore("captures").delete(id));
  await circleWithin(tx, id, null);
}

/**
 * Drop a draft with the photos taken for it; resolves with what brings all of it back.
 * @param {App} app
 * @param {string} id
 */
export async function dropDraft(app, id) {
  const captures = app.captures.filter((each) => each.defect === id);
  const draft = app.drafts.find((each) => each.id === id);
  const photos = await Promise.all(captures.map((each) => read(app.db, "captures", each.id)));
  const { circles } = app.settings;
  await writing(() =>
    transact(app.db, ["drafts", "captures", "settings"], async (tx) => {
      await ask(tx.objectStore("drafts").delete(id));
      for (const capture of captures) await forgetCapture(tx, capture.id);
    }),
  );
  app.drafts = app.drafts.filter((each) => each.id !== id);
  app.captures = app.captures.filter((each) => each.defect !== id);
  return async () => {
    if (draft) await keepDraft(app, draft); // first: a photo without its draft is taken for a recorded defect's
    for (const photo of photos) {
      await addCapture(app, photo);
      if (circles[photo.id]) await circleCapture(app, photo.id, circles[photo.id]);
    }
  };
}

/**
 * @param {App} app
 * @param {Partial<Settings>} changes
 */
export async function setSettings(app, changes) {
  await withReserve(app.db, () => putSettings(app.db, changes));
  Object.assign(app.settings, changes);
}

const FORM_MS = 12 * 3600 * 1000;

/**
 * What this person has chosen and typed at an address and not saved, within half a day.
 * @param {App} app
 * @param {string} at
 * @returns {Record<string, any>}
 */
export function formAt({ settings }, at) {
  const form = settings.forms[at];
  return form && form.person === settings.person && Date.now() - form.at_ms < FORM_MS ? structuredClone(form.view) : {};
}

/**
 * Keep what is chosen and typed at an address; null once it is saved.
 * @param {App} app
 * @param {string} at
 * @param {Record<string, any> | null} view
 * @param {true | string[]} parts  all of the view, or these parts of it
 */
export function keepForm(app, at, view, parts = true) {
  const { [at]: _before, ...others } = app.settings.forms;
  const fresh = Object.entries(others).filter(([, form]) => Date.now() - form.at_ms < FORM_MS);
  const own = view
    ? {
        [at]: {
          person: app.settings.person,
          at_ms: Date.now(),
          view: structuredClone(parts === true ? view : partsOf(view, parts)),
        },
      }
    : {};
  app.settings.forms = { ...Object.fromEntries(fresh), ...own };
  return setSettings(app, { forms: app.settings.forms });
}

/**
 * @param {Record<string, any>} view
 * @param {string[]} parts
 */
function partsOf(view, parts) {
  return Object.fromEntries(parts.filter((part) => view[part] !== undefined).map((part) => [part, view[part]]));
}

/** @param {App} app */
export function serverNow(app) {
  return Date.now() + app.settings.clock_offset_ms;
}
