/** One round with the server: give what is unsent, send photos, take what is new, forget what is old. */

import { uuid7 } from "./facts.js";
import { Declined, Unreachable, askJson, fetchAnswer, ping, upload } from "./api.js";
import { clockOffset } from "./clock.js";
import { ask, isFull, read, readAll, readKeys, transact } from "./db.js";
import { t } from "./language.js";
import { Unreadable, captureOf, makeReady } from "./photo.js";
import { tellsMore } from "./picture.js";
import { expired, expiredPhotos, forget, keepVerdicts, loadOutbox, toSend, unsent } from "./outbox.js";
import { keptBack, runsOf, spans } from "./proof.js";
import { chainAfter, nextBatch, pushBody, settleBatch } from "./push.js";
import { changeSession } from "./session.js";
import { putSettings, putWithin, version } from "./settings.js";
import { tellLanguage } from "./spoken.js";

/** @import {Entry, Person, Settings} from "./shapes" */

const PROTOCOL = 2;
const UNTAKEABLE = new Set([400, 413, 415, 422]); // what the server says of bytes that it will never take

/** @typedef {{db: IDBDatabase, settings: Settings, token: string}} Link  settings are changed in place */

/**
 * @typedef {object} Round  what one round came to
 * @property {boolean} online  the plant's server answered and echoed
 * @property {boolean} signed_out  it no longer knows this sign-in
 * @property {string} problem  why not everything went, "" when it did
 */

/**
 * @param {Link} link
 * @returns {Promise<Round>}
 */
export async function syncRound(link) {
  /** @type {Round} */
  const round = { online: false, signed_out: false, problem: "" };
  try {
    await greet(link);
    round.online = true;
    await makeAllReady(link.db);
    const unpushed = await pushAll(link);
    round.problem = (await sendPhotos(link)) || unpushed;
    await takePlant(link);
    await pullAll(link);
    await forgetOld(link);
    if (!round.problem) await note(link, { synced_ms: Date.now() });
    await tellLanguage(link.db, link.settings, link.token);
  } catch (error) {
    await tellFailure(link, round, error);
  }
  return round;
}

/**
 * @param {Link} link
 * @param {Round} round
 * @param {unknown} error
 */
async function tellFailure({ db, settings, token }, round, error) {
  if (error instanceof Declined && error.status === 401) {
    round.online = true;
    round.signed_out = true;
    round.problem = t`the server has ended this sign-in; sign in again, what is recorded is kept`;
    await changeSession(db, settings, token, { ended: true });
  } else if (error instanceof Declined || error instanceof Unreachable) {
    round.online = error instanceof Declined;
    round.problem = error.message;
  } else if (isFull(error)) {
    round.problem = t`this phone is full: photos that the server holds were let go here; sync again`;
    await forget(
      db,
      [],
      (await readAll(db, "uploads")).filter((each) => each.epoch === settings.server_epoch).map((each) => each.sha256),
    );
  } else {
    throw error;
  }
}

/**
 * @param {Link} link
 * @param {Partial<Settings>} changes
 */
async function note({ db, settings }, changes) {
  await putSettings(db, changes);
  Object.assign(settings, changes);
}

/** @param {Link} link */
async function greet(link) {
  const sent = Date.now();
  const { lost } = link.settings;
  const answer = await ping(link.token, uuid7(), lost);
  if (lost && answer.arrived !== undefined) await note(link, { lost: { ...lost, server_seq: answer.arrived } });
  await note(link, { clock_offset_ms: clockOffset(sent, answer.server_now, Date.now()) });
  await heedEpoch(link, answer.server_epoch);
}

/**
 * A new epoch is a restored server: it may lack what it acknowledged. Verdicts of another epoch count as none, so what
 * is retained is offered again; units are taken anew.
 * @param {Link} link
 * @param {string} epoch
 */
async function heedEpoch({ db, settings }, epoch) {
  if (epoch === settings.server_epoch) return;
  const changes = { server_epoch: epoch, pulled_through: 0, chain: null, history_differs_ms: 0 };
  await transact(db, ["settings", "units"], async (tx) => {
    await ask(tx.objectStore("units").clear());
    await putWithin(tx, changes);
  });
  Object.assign(settings, changes);
}

/**
 * Photos that cannot be sent, by hash or capture's id, with why: not tried again, a person removes them.
 * @param {IDBDatabase} db
 * @returns {Promise<Map<string, string>>}
 */
async function refusedPhotos(db) {
  return new Map((await readAll(db, "uploads")).flatMap((each) => (each.refused ? [[each.sha256, each.refused]] : [])));
}

/**
 * @param {IDBDatabase} db
 * @param {string} id
 * @param {string} why
 */
function refusePhoto(db, id, why) {
  const row = { sha256: id, epoch: "", size: 0, sent_ms: Date.now(), refused: why };
  return transact(db, ["uploads"], (tx) => ask(tx.objectStore("uploads").put(row)));
}

/**
 * Make the photos of saved defects ready to send. One that cannot be is kept as it was taken, and told.
 * @param {IDBDatabase} db
 */
export async function makeAllReady(db) {
  const drafts = new Set(await readKeys(db, "drafts"));
  const refused = await refusedPhotos(db);
  for (const id of await readKeys(db, "captures")) {
    // A photo of an open draft waits.
    if (drafts.has(captureOf(id).defect) || refused.has(String(id))) continue;
    const capture = await read(db, "captures", id);
    try {
      if (capture) await makeReady(db, capture);
    } catch (error) {
      if (!(error instanceof Unreadable)) throw error;
      await refusePhoto(db, String(id), error.message);
    }
  }
}

/**
 * @param {Link} link
 * @returns {Promise<string>} why not everything went
 */
async function pushAll(link) {
  const { db, settings } = link;
  const { entries, verdicts } = await loadOutbox(db);
  let unproved = "";
  /** @type {number[][]} */
  let held = [];
  const provable = (/** @type {Entry[]} */ all) => {
    const kept = keptBack(all, settings, Date.now());
    held = spans(kept);
    if (kept.length) unproved = kept[0].op.author;
    return all.filter((each) => !kept.includes(each));
  };
  let queue = toSend(entries, verdicts, settings.server_epoch, provable);
  let resentFrom = 0;
  while (queue.length) {
    const batch = nextBatch(queue);
    const answer = await pushBatch(link, batch, await runsOf(batch, settings), held);
    await heedEpoch(link, answer.server_epoch);
    const result = settleBatch(batch, answer.verdicts, answer.server_epoch, Date.now());
    await keepVerdicts(db, result.verdicts);
    await note(link, chainAfter(settings, answer, Date.now()));
    if (result.stop) return result.stop;
    queue = queue.slice(batch.length);
    if (result.resend !== null) {
      const expected = result.resend;
      const problem = gapProblem(entries, expected, resentFrom);
      if (problem) return problem;
      resentFrom = expected;
      queue = provable(entries.filter((each) => each.seq >= expected));
    }
  }
  return (
    unproved && t`records by ${unproved} wait until ${unproved} signs in on this phone: that proves whose they are`
  );
}

/**
 * @param {Link} link
 * @param {Entry[]} batch
 * @param {object[]} runs
 * @param {number[][]} held
 */
function pushBatch({ settings, token }, batch, runs, held) {
  const { device, install_epoch, server_epoch, chain } = settings;
  const frame = {
    protocol: PROTOCOL,
    device,
    install_epoch,
    sent_ms: Date.now(),
    server_epoch: server_epoch || null,
    chain,
    runs,
    held,
  };
  return askJson("push", { method: "POST", token, json: pushBody(frame, batch), timeout_ms: 30_000 });
}

/**
 * @param {Entry[]} entries
 * @param {number} expected
 * @param {number} resentFrom
 */
function gapProblem(entries, expected, resentFrom) {
  if (!entries.some((each) => each.seq === expected)) {
    return t`the server asks for record ${expected}, which this phone no longer holds; export the file below and tell the administrator`;
  }
  if (expected <= resentFrom)
    return t`the server asks for record ${expected} again though it was sent; tell the administrator`;
  return "";
}

/**
 * @param {Link} link
 * @returns {Promise<string>}
 */
async function sendPhotos({ db, settings, token }) {
  const held = new Set(
    (await readAll(db, "uploads")).filter((each) => each.epoch === settings.server_epoch).map((each) => each.sha256),
  );
  const refused = await refusedPhotos(db);
  let problem = "";
  for (const sha of await readKeys(db, "photos")) {
    if (held.has(String(sha)) || refused.has(String(sha))) continue;
    const photo = await read(db, "photos", sha);
    if (tellsMore(photo.bytes)) {
      await refusePhoto(db, String(sha), t`it still carries what the camera wrote about the place; it is not sent`);
      continue;
    }
    try {
      await upload(token, photo);
    } catch (error) {
      // One photo that the server does not take holds up no other; the phone keeps it.
      if (!(error instanceof Declined) || error.status === 401) throw error;
      if (UNTAKEABLE.has(error.status)) await refusePhoto(db, String(sha), error.message);
      problem = t`a photo was not taken: ${error.message}; it is kept on the phone`;
      if (error.status === 429) break; // of this phone, whichever the photo
      continue;
    }
    const sent = { sha256: sha, epoch: settings.server_epoch, size: photo.bytes.byteLength, sent_ms: Date.now() };
    await transact(db, ["uploads"], (tx) => ask(tx.objectStore("uploads").put(sent)));
  }
  return problem;
}

/**
 * Take the plant's tables where they changed; what blocks a unit may be another by these, so all units are taken anew.
 * @param {Link} link
 */
async function takePlant(link) {
  const { db, token } = link;
  const known = await read(db, "plant", "plant");
  /** @type {Record<string, string>} */
  const headers = known ? { "If-None-Match": known.etag } : {};
  const response = await fetchAnswer("plant", { token, headers });
  if (response.status === 304) return;
  if (!response.ok)
    throw new Declined(response.status, "", t`the server answered ${response.status} when asked for the plant`);
  const value = await response.json();
  if (!value.revision) throw new Unreachable(t`something else than the plant's server answered`);
  const etag = response.headers.get("ETag") ?? "";
  const changes = known && known.value.revision !== value.revision ? { pulled_through: 0 } : {};
  await transact(db, ["plant", "settings"], async (tx) => {
    await ask(tx.objectStore("plant").put({ name: "plant", etag, value }));
    await putWithin(tx, changes);
  });
  Object.assign(link.settings, changes);
}

/**
 * Who is signed in may have other roles than when they signed in: what the app offers goes by those that are.
 * @param {Link} link
 * @param {Person | undefined} person  none from a server of before
 */
async function heedPerson({ db, settings, token }, person) {
  const known = settings.sessions.find((each) => each.token === token)?.person;
  if (person && known && JSON.stringify(person) !== JSON.stringify(known))
    await changeSession(db, settings, token, { person });
}

/** @param {Link} link */
async function pullAll(link) {
  const { db, settings, token } = link;
  const { entries, verdicts } = await loadOutbox(db);
  for (let more = true; more;) {
    const { server_epoch, pulled_through, clock_offset_ms } = settings;
    const waiting = unsent(entries, verdicts, server_epoch).length;
    const answer = await askJson(
      `pull?after=${pulled_through}&app=${version()}&waiting=${waiting}&behind=${clock_offset_ms}`,
      { token },
    );
    if (answer.server_epoch !== settings.server_epoch) {
      await heedEpoch(link, answer.server_epoch);
      continue;
    }
    await heedPerson(link, answer.person);
    const changes = { pulled_through: answer.through };
    await transact(db, ["units", "settings"], async (tx) => {
      for (const unit of answer.units) await ask(tx.objectStore("units").put(unit));
      await putWithin(tx, changes);
    });
    Object.assign(settings, changes);
    more = answer.more;
  }
}

/** @param {Link} link */
async function forgetOld({ db, settings }) {
  const { entries, verdicts } = await loadOutbox(db);
  const seqs = expired(entries, verdicts, settings.server_epoch, Date.now());
  const uploads = await readAll(db, "uploads");
  const photos = uploads.map((each) => ({ ...each, sent: each.epoch === settings.server_epoch }));
  const gone = expiredPhotos(photos, Date.now());
  if (seqs.length || gone.length) await forget(db, seqs, gone);
}
