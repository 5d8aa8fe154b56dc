/** Photos on their way to the server: resumable, in pieces, believed only when the server holds every byte. */

import { Declined, Unreachable, fetchAnswer } from "./api.js";

const PIECE_BYTES = 256_000;
const PATH = "photos/";

/**
 * @param {Response} response
 * @param {string} name
 */
function figure(response, name) {
  const value = Number(response.headers.get(name));
  return Number.isFinite(value) ? value : 0;
}

/**
 * Bytes of a photo that the server holds already.
 * @param {string} token
 * @param {string} sha
 */
async function offsetOf(token, sha) {
  const response = await fetchAnswer(PATH + sha, { method: "HEAD", token });
  if (response.status === 404) return 0;
  if (!response.ok) throw new Declined(response.status, "", `the server answered ${response.status} to a photo`);
  if (!response.headers.has("Upload-Offset")) throw new Unreachable("something else than the plant's server answered");
  return figure(response, "Upload-Offset");
}

/**
 * Send what the server does not hold yet. Resolves when it holds the whole photo and has read it.
 * @param {string} token
 * @param {{sha256: string, bytes: ArrayBuffer}} photo
 */
export async function upload(token, photo) {
  const total = photo.bytes.byteLength;
  let offset = await offsetOf(token, photo.sha256);
  for (let tries = 0; offset < total && tries < 2 + total / PIECE_BYTES; tries += 1) {
    offset = await sendPiece(token, photo, offset);
  }
  if (offset < total) throw new Unreachable("the photo did not get through; it is sent again later");
}

/**
 * @param {string} token
 * @param {{sha256: string, bytes: ArrayBuffer}} photo
 * @param {number} offset
 */
async function sendPiece(token, photo, offset) {
  const response = await fetchAnswer(PATH + photo.sha256, {
    method: "PATCH",
    token,
    headers: {
      "Upload-Offset": String(offset),
      "Upload-Length": String(photo.bytes.byteLength),
      "Content-Type": "application/offset+octet-stream",
    },
    body: photo.bytes.slice(offset, offset + PIECE_BYTES),
  });
  if (!response.headers.has("Upload-Offset") && (response.ok || response.status === 409)) {
    throw new Unreachable("something else than the plant's server answered");
  }
  if (response.ok || response.status === 409) return figure(response, "Upload-Offset");
  const problem = await response.json().catch(() => ({})); // an answer without words still has its status
  throw new Declined(response.status, problem.error?.code ?? "", problem.error?.message ?? `the server answered ${response.status}`);
}
