/** The shapes that cross files of the app. Types only: nothing of this is sent to a phone. */

import type { Markup } from "./html.js";

// ---- the plant, as the server sends it

export type Severity = "critical" | "major" | "minor";
/** lines: those that build it, none where the plant has one alone. */
export type Model = { code: string; name: string; what: string; length_mm: number; digit: string; lines?: string[] };
export type View = { id: string; name: string; left: string; right: string };
/** points: the outline in mm; layer 1 lies over layer 0; key is shared by all models. */
export type Zone = {
  model: string; view: string; key: string; name: string; kind: string; layer: number;
  points: [number, number][]; walk_order: number; caution: string; holds?: "" | "plate" | "whole"; ended?: boolean; own_name?: string; options?: string[];
};
/** A line of a unit's drawing; points in mm, of a wheel its centre and a point of its rim; swing: of a door. */
export type Outline = { model: string; view: string; part: string; points: [number, number][]; swing: string };
/** models empty for all; origins: the usual ones, likeliest first; caution: that its work carries, "" for none, null or
 *  absent where the tables do not say it: then the general one; words: what people say for it. */
export type Type = {
  code: string; group: string; group_name: string; name: string; severity: Severity; grade?: string; stop_unit: boolean;
  photo_required: boolean; zone_kinds: string[]; models: string[]; origins: string[]; caution?: string | null; words?: string[];
  ended?: boolean; own_name?: string; own_group?: string;
};
/** line: the one of the plant's lines on which it stands, "" where every line comes by. */
export type Station = { id: string; name: string; kind: string; line?: string; can_detect: boolean; final?: boolean; first_day?: string | null; end_day?: string | null };
/** lower, upper: limits that count as inside, null for open; basis: S, M or P; type: the defect of a failed one. */
export type Test = {
  id: string; name: string; point: string; kind: "measure" | "pass"; unit: string; lower: number | null;
  upper: number | null; conditions: string; reference: string; basis: string; models: string[]; caution: string;
  least: number | null; most: number | null; beyond: string[]; hazard: boolean; ended?: boolean; own_name?: string; options?: string[];
  who: string; type: string;
};
/** camera: "ask" until a person confirms before_photo; move_away: before a phone is used; call, phone: who is told of a
 *  critical finding, "" for the plant's; shown: where in the app. Absent from an older server, and then never taken as harmless. */
export type Caution = {
  code: string; short: string; more: string; camera?: "free" | "ask" | "no"; before_photo?: string; move_away?: boolean;
  call?: string; phone?: string; shown?: ("begin" | "unit")[];
};
/** What lies under the zones of a model in a view; corners: left, bottom, right and top of what it covers, in mm; width,
 *  height in px. */
export type ViewPicture = {
  model: string; view: string; sha256: string; width: number; height: number; corners: [number, number, number, number];
};
/** A picture and the drawing that it lies under. map: stops: where its scales change; ends: what it shows, both in mm. */
export type Laid = {
  picture: ViewPicture;
  map: {
    drawn: { points: [number, number][] }[]; width: number; height: number; stops: [number[], number[]]; ends: [[number, number], [number, number]];
    place: (point: [number, number]) => [number, number];
  };
};
/** One of several lines on which the plant builds; ended: no unit is begun on it any more. */
export type ProductionLine = { code: string; name: string; ended: boolean };
/** One of the plant's own severities; counts_as: which of the three the server counts it as. */
export type OwnSeverity = { code: string; name: string; counts_as: Severity };
/** The form of the plant's numbers: letters that they use, those that can stand at their end, how many last characters
 *  find a unit, the name of their check, and the parts of either, length 0 for the model's code. */
export type Numbers = {
  letters: string; ends: string; find: number; check: string;
  chassis: { kind: string; text: string; length: number }[]; shop: { kind: string; text: string; length: number }[];
};
/** roles: who may author each kind of record, and purposes of a look; without them where an older server sent it.
 *  origins: by detection point and model, the stations upstream and what is no station. */
export type Plant = {
  revision: string; maker: string; site: string; demo: boolean; time_zone: string; stop_phone: string;
  stop_who?: string; standing_line: string; numbers?: Numbers; severities?: OwnSeverity[]; options?: { code: string; name: string }[]; lines?: ProductionLine[]; models: Model[]; views: View[]; zones: Zone[]; outlines?: Outline[]; pictures?: ViewPicture[]; types: Type[]; stations: Station[];
  tests: Test[]; cautions: Caution[]; origins: Record<string, Record<string, string[]>>; lights: string[];
  weathers: string[]; not_looked_reasons: string[]; again_reasons: string[]; purposes?: string[]; names?: Record<string, Record<string, Record<string, Record<string, string>>>>;
  roles?: Record<string, string[]>;
};

// ---- a unit, as the server sends it and as this phone's own records change it

/** Recorded here: still on the phone, or sent and not yet in the server's view. */
export type Local = "saved" | "sent";
export type Inspection = {
  id: string; point: string; purpose: string; presentation: number | null; inspector: string; light: string;
  weather: string | null; begun_ms: number; ended_ms: number | null; looked: string[];
  not_looked: { zone: string; reason: string }[]; local?: Local;
};
/** said: the words of the last repair or of the last failed re-check; circles: by photo on which the flaw is circled;
 *  both absent from an older server. */
export type Defect = {
  id: string; inspection: string | null; point: string; zone: string; type: string; severity: Severity; grade?: string; lot?: string; note: string;
  mark: [number, number] | null; found_ms: number; finder: string;
  state: "open" | "repaired" | "closed" | "withdrawn"; cycles: number; said?: string; suspected: string | null;
  confirmed: string | null; origin_state: string; photos: string[]; circles?: Record<string, Circle>; repaired_by: string | null;
  changed_also_by: string[]; number: number | null; local?: Local;
};
export type TestResult = {
  test: string; passed: boolean; value: number | null; voided: boolean; number: number | null; local?: Local;
};
/** Every result in order. beyond: "above", "below" or ""; again: why it was done again after a failure; untold: the failure
 *  of a hazardous test that no defect tells yet. */
export type Result = {
  id: string; test: string; inspection: string | null; value: number | null; beyond: string; passed: boolean; voided: boolean;
  again: string; taken_back: boolean; untold: boolean; tester: string; tested_ms: number; number: number | null; local?: Local;
};
export type Blocker = { code: string; what: string; ref: string };
/** Where on a photo the flaw is circled: left, top, right and bottom of the box that an ellipse fills, as shares of the
 *  photo's width and height from 0 to 1, three decimals at most. */
export type Circle = [number, number, number, number];
/** That the unit passed a station; withdrawn: taken back as a slip. */
export type Passing = {
  id: string; station: string; by: string; passed_ms: number; withdrawn: boolean; local?: Local;
};
/** unplanned: met before a plan held it; place: where the unit stands; they and passings are absent from an older server. */
export type UnitView = {
  chassis: string; shop_number: string; sequence: number; model: string; options: string[]; line?: string; state: string;
  alarm: string; last_number: number; unplanned?: boolean; passings?: Passing[]; place?: { place: string; by: string; moved_ms: number } | null; inspections: Inspection[]; defects: Defect[]; tests: TestResult[]; results?: Result[];
  blockers: Blocker[]; release: { signed_by: string; released_ms: number; against: string } | null;
  open_digest: string;
};
/** How a zone stands in an inspection. */
export type Look = { state: "looked" | "not" | "none"; by: string; reason: string };

// ---- what this phone records

/** Something to be recorded. */
export type Fact = { id: string; kind: string; unit: string; body: Record<string, any>; deps?: string[] };
/** Who records, on what. */
/** plant: the revision of the tables by which it is recorded. */
export type Maker = { device: string; install_epoch: string; author: string; session: string; seen_through: number; plant?: string };
export type Operation = Fact & Maker & {
  seq: number; schema: number; deps: string[]; wall_ms: number; tz_min: number; mono_ms: number;
};
/** This phone's operation that the server's view does not hold yet. */
export type Own = { op: Operation; local: Local };
/** An operation as the phone keeps it. text: the bytes that are sent, the same every time. */
export type Entry = {
  seq: number; id: string; unit: string | null; kind: string; op: Operation; text: string; saved_ms: number; seal?: Seal;
};
/** What the server said of one operation. epoch: the server's at that answer; settled: why it needs no more care. */
export type Verdict = {
  seq: number; id: string; verdict: string; code: string; reason: string; number: number | null; epoch: string;
  at_ms: number; settled?: string;
};
/** A verdict as it comes in the answer to a push. */
export type Told = {
  id: string; verdict: string; code: string; reason: string; expected: number | null; number: number | null;
};
/** A photo as it arrived. id: "defect/unit/view/…"; defect: the defect's id, which is the draft's before it is saved. */
export type Capture = {
  id: string; defect: string; unit: string; view: "far" | "near"; bytes: ArrayBuffer; type: string; sha256: string;
  maker: Maker; taken_ms: number;
};
/** A defect begun and not yet saved; its id becomes the defect's. not_on_list: the type is the nearest one and the
 *  note says what it is; replaces: number of a refused record that it settles; result: the failed test that it tells. */
export type Draft = {
  id: string; unit: string; point: string; inspection: string | null; zone: string; type: string; severity: Severity; grade?: string; lot?: string;
  severity_reason: string; note: string; suspected: string; mark: [number, number] | null; not_on_list: boolean;
  photo_problem: string; person: string; begun_ms: number; replaces: number | null; result?: string;
  plant?: string;
};

// ---- people and settings

export type Person = { code: string; name: string; role: string; also?: string[]; stations: string[] };
/** What signs one record: the key, and the server's certificate that the PIN was given for it. */
export type Seal = { key: CryptoKey; certificate: string };
/** A person's key on this phone, and the server's certificate of it; key_id: the server's key that certified. */
export type AuthorKey = Seal & { person: string; public_key: string; key_id: string };
/** A sign-in that lasts a shift. session: its id, named in every operation; ends_ms: the server's clock; pin: to know
 *  the same person again without signal; ended: the server has ended it before its time; given: who gave the person their
 *  PIN or passphrase of late, latest first, empty where that is nothing to tell. */
export type Session = {
  person: Person; token: string; session: string; ends_ms: number; certified_until_ms: number; pin: { salt: number[]; hash: string };
  ended?: boolean; given?: { by: string; at_ms: number }[];
};
/** install_epoch: identity of this installation; device: the code that the server gave it, "" before the first
 *  sign-in; next_seq: dense from 1; person: who is signed in, "" when locked; station: at which this phone stands, "" for none; server_epoch: "" before the first answer;
 *  chain: the longest record that the server has shown; history_differs_ms: since when its record is another, 0 for never; pulled_through: the server's number; clock_offset_ms: server's
 *  clock minus this phone's; synced_ms: this phone's clock at the last whole sync, 0 for never; cautions_seen: codes by
 *  sign-in; instruments: the last by test; used_by: codes of who signed in here, the last first; forms: by address, what was chosen and typed there and is not saved yet;
 *  circles: of photos that are not made ready yet, by the
 *  capture's id; language: the phone's, "" for what the browser asks for; languages: each person's own, by code, and whether
 *  the server was told of it; secrets_told: of which given PIN a person was told here, by code, as the instant; lost: a store of this phone that was cleared: its last number, and the server's highest, null before it was asked. */
export type Settings = {
  install_epoch: string; device: string; device_secret: string; next_seq: number; sessions: Session[]; keys: AuthorKey[]; key_id: string; person: string; station: string; server_epoch: string;
  chain: { size: number; head: string } | null; history_differs_ms: number; pulled_through: number; clock_offset_ms: number; synced_ms: number;
  targets: "standard" | "glove"; theme: "light" | "dark"; zones_as: "drawing" | "list"; hand: "right" | "left"; told_by: "eye" | "buzz" | "tone";
  language: string; languages: Record<string, { tag: string; told: boolean }>;
  circles: Record<string, Circle>; secrets_told: Record<string, number>; cautions_seen: Record<string, string[]>; instruments: Record<string, string>;
  people: { code: string; name: string; role: string; also?: string[] }[]; used_by: string[];
  lost: { device: string; install_epoch: string; seq: number; server_seq: number | null } | null;
  forms: Record<string, { person: string; at_ms: number; view: Record<string, any> }>;
};

// ---- the app

/** active: it starts and records without signal; waiting: a new version is ready; failed: why it cannot, "" if it can. */
export type WorkerState = { active: boolean; waiting: boolean; failed: string };
/** null where the browser cannot say. */
export type StorageState = { persisted: boolean | null; free_bytes: number | null };
/** refused_photos: why a photo cannot be sent, by hash or by capture; again: type that the next touch on a zone repeats, "" for none; not_saved: why the last save failed, "" if not. */
export type App = {
  db: IDBDatabase; settings: Settings; plant: Plant | null; told_plant: Plant | null; worded: { plant: Plant | null; tag: string } | null; units: Map<string, UnitView>; entries: Entry[];
  verdicts: Map<number, Verdict>; drafts: Draft[]; captures: { id: string; defect: string; unit: string; view: string }[]; photos: Set<string>;
  sent_photos: Set<string>; refused_photos: Map<string, string>; sync: { online: boolean; running: boolean; problem: string }; worker: WorkerState;
  storage: StorageState; history: Map<string, number>; again: string;
  touched: { zone: string; mark: [number, number] | null } | null; not_saved: string; front: Front;
};
/** How long each view of an inspection was in front of the person: ms by "inspection view"; at: since when the present one is. */
export type Front = { ms: Map<string, number>; key: string; at: number };
/** short: what the head's one line says where the title is long; the title then begins the body; body: a function gets the room that is left for it, in px; actions: what stays at the bottom; strip: a line above them
 *  that has its room always, where notices come too, so that none of them moves anything. */
export type Page = {
  title: string; short?: string; body: Markup | ((room: { width: number; height: number }) => Markup); actions?: Markup; strip?: Markup;
};
export type Shape =
  | Severity | "saved" | "sent" | "refused" | "not_saved" | "looked" | "not" | "none" | "next" | "often";
export type Notice = { text: string; shape?: Shape; buttons?: { label: string; run: (context: Context) => Promise<void> | void }[] };
export type WorkerControl = { activate: () => void; check: () => Promise<void> };
/** What a screen may use. view: its own passing state, empty at each new address; go, replace and back do
 *  nothing once the person has gone elsewhere; replace leaves no address to go back to; say: shown until the next act, also across one change of address; sees: notes that a caution
 *  is shown, true if it was in this sign-in; now: the server's clock; may_record: signed in, worker active; may: that, and the plant's roles let this
 *  person author the kind; before: the path of the screen shown last that is no menu and no help. */
export type Context = {
  app: App; params: Record<string, string>; view: Record<string, any>;
  address: (...parts: (string | number)[]) => string; go: (...parts: (string | number)[]) => void;
  replace: (...parts: (string | number)[]) => void; back: () => void; redraw: () => void;
  say: (notice: Notice) => void; sync: (why: string) => void; sees: (code: string) => boolean; now: () => number;
  may_record: boolean; may: (kind: string) => boolean; session: Session | null; worker: WorkerControl;
  before: string;
};
export type Act = (context: Context, element: HTMLElement, event: Event) => Promise<void> | void;
/** open: may be seen without a sign-in; live: drawn again when the server brings news; keeps: what is chosen
 *  and typed here outlives the page until it is saved: all of it, or the parts named. */
export type Screen = {
  path: string; page: (context: Context) => Page; acts?: Record<string, Act>; open?: boolean; live?: boolean; keeps?: boolean | string[];
};
/** A screen that is loaded when it is first opened. */
export type Later = { path: string; open?: boolean; load: () => Promise<Screen> };
/** A zone on a drawing. defects: those that stand in it; often: something was found here on other units; next: the walk's next. */
export type Mark = { zone: Zone; look: Look; defects: Defect[]; often: boolean; next: boolean };
