/** Rules of the push: what goes into a batch, and what a server's verdicts mean. */

import { t } from "./language.js";

/** @import {Entry, Told, Verdict} from "./shapes" */

export const MOST_OPERATIONS = 100;
export const MOST_BYTES = 256_000;

// Room for the fields around the operations.
const FRAME_BYTES = 20_000; // with the numbers that are kept back
const RUN_BYTES = 700; // certificate and signature of one author's records in a row

const FINAL = new Set(["applied", "refused", "parked", "quarantined"]);

/**
 * The first entries that fit into one push, at least one.
 * @param {Entry[]} entries
 */
export function nextBatch(entries) {
  const encoder = new TextEncoder();
  let bytes = FRAME_BYTES;
  let count = 0;
  let author = "";
  for (const entry of entries.slice(0, MOST_OPERATIONS)) {
    bytes += encoder.encode(entry.text).length + 1 + (entry.op.author === author && !entry.seal ? 0 : RUN_BYTES);
    author = entry.seal ? "" : entry.op.author;
    if (count && bytes > MOST_BYTES) break;
    count += 1;
  }
  return entries.slice(0, count);
}

/**
 * A push's body. Operations go as the bytes that were kept: none reads differently twice.
 * @param {Record<string, any>} frame
 * @param {Entry[]} entries
 */
export function pushBody(frame, entries) {
  const head = JSON.stringify(frame);
  return `${head.slice(0, -1)},"operations":[${entries.map((entry) => entry.text).join(",")}]}`;
}

/**
 * What a phone remembers of the server's history: the newest row that it saw. Once the record is another, it keeps what
 * it saw, and says so until the record begins anew from a backup.
 * @param {{chain: any, history_differs_ms: number}} known
 * @param {{chain: any, history_differs?: boolean}} answer
 * @param {number} now
 */
export function chainAfter(known, answer, now) {
  if (answer.history_differs) return { history_differs_ms: known.history_differs_ms || now };
  return known.history_differs_ms ? {} : { chain: answer.chain };
}

/**
 * A duplicate carries the first verdict as its code, and that one's "code: words" as its reason.
 * @param {Told} told
 */
function ofDuplicate(told) {
  const [code, ...words] = told.reason.split(": ");
  return words.length
    ? { verdict: told.code, code, reason: words.join(": ") }
    : { verdict: told.code, code: "", reason: told.reason };
}

/**
 * What one push's answer means. Only a verdict on the operation itself settles it; what the answer leaves out stays
 * unsent. resend: number to go on from after a gap. stop: why nothing more can be sent now, "" to go on.
 * @param {Entry[]} batch
 * @param {Told[]} answers
 * @param {string} epoch
 * @param {number} now
 * @returns {{verdicts: Verdict[], resend: number | null, stop: string}}
 */
export function settleBatch(batch, answers, epoch, now) {
  const told = new Map(answers.map((answer) => [answer.id, answer]));
  /** @type {{verdicts: Verdict[], resend: number | null, stop: string}} */
  const result = { verdicts: [], resend: null, stop: "" };
  for (const entry of batch) {
    const answer = told.get(entry.id);
    if (!answer) {
      result.stop = t`the server left out an answer; what it left out is sent again later`;
      continue;
    }
    if (answer.verdict === "gap") {
      if (result.resend === null) result.resend = answer.expected;
      continue;
    }
    if (answer.verdict === "too_new") {
      result.stop = t`the server does not know "${entry.kind}" yet; it is kept here until the server is brought up to date`;
      break;
    }
    const kept = answer.verdict === "duplicate" ? ofDuplicate(answer) : answer;
    if (!FINAL.has(kept.verdict) && kept.verdict !== "id_reused") {
      result.stop = t`the server gave an answer that this version does not know (${answer.verdict})`;
      break;
    }
    const { verdict, code, reason } = kept;
    result.verdicts.push({
      seq: entry.seq,
      id: entry.id,
      verdict,
      code: code ?? "",
      reason: reason ?? "",
      number: answer.number ?? null,
      epoch,
      at_ms: now,
    });
  }
  return result;
}
