/** A second place that remembers this phone's last number, so that a store that was cleared does not go unnoticed. */

import { t } from "./language.js";

/** @import {Entry} from "./shapes" */

const NAME = "daybay-last";

/** @typedef {{device: string, install_epoch: string, seq: number}} Last */

/** @param {Entry[]} entries  just recorded, in order */
export function noteLast(entries) {
  const last = entries.at(-1)?.op;
  if (!last || typeof localStorage === "undefined") return;
  try {
    localStorage.setItem(
      NAME,
      JSON.stringify({ device: last.device, install_epoch: last.install_epoch, seq: last.seq }),
    );
  } catch {
    // A full or forbidden second place: the record itself is on the disk already, and nothing of it rests on this.
  }
}

/** @returns {Last | null} what was noted last, null for nothing that can be read */
export function lastNoted() {
  try {
    const last = JSON.parse(localStorage.getItem(NAME) ?? "null");
    return last &&
      typeof last.device === "string" &&
      typeof last.install_epoch === "string" &&
      Number.isInteger(last.seq)
      ? last
      : null;
  } catch {
    return null; // there is no second place here, or nothing of ours in it
  }
}

/**
 * What a phone whose store was cleared says.
 * @param {Last & {server_seq: number | null}} lost
 */
export function lostWords({ device, seq, server_seq }) {
  if (server_seq === null)
    return t`This phone's store was cleared. As ${device} it had recorded up to number ${seq}; what the server has of that is not known until it can be asked.`;
  if (server_seq >= seq)
    return t`This phone's store was cleared. As ${device} it had recorded up to number ${seq}, and the server has them all. Photos that were not sent yet are lost.`;
  return t`This phone's store was cleared. As ${device} it had recorded up to number ${seq}; the server has ${server_seq} of them. ${seq - server_seq} are lost: record them again from memory or the paper sheet.`;
}
