/** The plant's server, as the phone hears it: an answer in the server's own shape, or no server at all. */

import { t, told } from "./language.js";

const BASE = "/api/v1/";
const TIMEOUT_MS = 20_000;

/** No answer of the plant's server: no signal, a timeout, a redirect, or a page that somebody else put in between. */
export class Unreachable extends Error {}

/** The server answered and said no. status: HTTP; code: the server's stable word, "" where it gave none. */
export class Declined extends Error {
  /**
   * @param {number} status
   * @param {string} code
   * @param {string} message
   */
  constructor(status, code, message) {
    super(told(message));
    this.status = status;
    this.code = code;
  }
}

/**
 * @typedef {object} Ask
 * @property {string} [method]
 * @property {string} [token]
 * @property {string} [json]  body as JSON text
 * @property {BodyInit} [body]
 * @property {Record<string, string>} [headers]
 * @property {number} [timeout_ms]
 */

/**
 * A signal that ends a call after some time, also in a browser that has no such thing ready-made.
 * @param {number} milliseconds
 */
function within(milliseconds) {
  if (typeof AbortSignal.timeout === "function") return AbortSignal.timeout(milliseconds);
  const control = new AbortController();
  setTimeout(() => control.abort(), milliseconds);
  return control.signal;
}

/**
 * @param {string} path
 * @param {Ask} asked
 * @returns {Promise<Response>}
 */
export async function fetchAnswer(path, asked = {}) {
  const headers = { ...asked.headers };
  if (asked.token) headers.Authorization = `Bearer ${asked.token}`;
  if (asked.json) headers["Content-Type"] = "application/json";
  try {
    return await fetch(BASE + path, {
      method: asked.method ?? "GET",
      headers,
      body: asked.json ?? asked.body,
      redirect: "error", // a sign-on page of somebody's network is not the plant's server
      cache: "no-store",
      credentials: "omit",
      signal: within(asked.timeout_ms ?? TIMEOUT_MS),
    });
  } catch (error) {
    throw new Unreachable(error instanceof Error ? error.message : String(error));
  }
}

/**
 * The JSON of a good answer. Raises Declined for the server's own refusals, Unreachable for everything that is not
 * the plant's server speaking (a page of HTML, half an answer).
 * @param {string} path
 * @param {Ask} [asked]
 * @returns {Promise<any>}
 */
export async function askJson(path, asked = {}) {
  const response = await fetchAnswer(path, asked);
  const data = await jsonOf(response);
  if (response.ok) return data;
  throw new Declined(
    response.status,
    data.error?.code ?? "",
    data.error?.message ?? t`the server answered ${response.status}`,
  );
}

/** @param {Response} response */
async function jsonOf(response) {
  if (!(response.headers.get("Content-Type") ?? "").startsWith("application/json")) {
    throw new Unreachable(t`something else than the plant's server answered`);
  }
  try {
    return await response.json();
  } catch (error) {
    throw new Unreachable(t`the answer broke off: ${error instanceof Error ? error.message : error}`);
  }
}

/**
 * Whether the plant's server is there: it must echo what only this call knows.
 * @param {string} token
 * @param {string} nonce
 * @param {{device: string, install_epoch: string} | null} [lost]  an installation whose highest number is asked too
 * @returns {Promise<{server_now: number, server_epoch: string, arrived?: number}>}
 */
export async function ping(token, nonce, lost = null) {
  const asked = lost ? { nonce, device: lost.device, install_epoch: lost.install_epoch } : { nonce };
  const answer = await askJson("ping", { method: "POST", token, json: JSON.stringify(asked), timeout_ms: 8_000 });
  if (answer.nonce !== nonce) throw new Unreachable(t`something else than the plant's server answered`);
  return answer;
}

// ---- photos on their way: resumable, in pieces, believed only when the server holds every byte

const PIECE_BYTES = 256_000;

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
  const response = await fetchAnswer("photos/" + sha, { method: "HEAD", token });
  if (response.status === 404) return 0;
  if (!response.ok) throw new Declined(response.status, "", t`the server answered ${response.status} to a photo`);
  if (!response.headers.has("Upload-Offset")) throw new Unreachable(t`something else than the plant's server answered`);
  return figure(response, "Upload-Offset");
}

/**
 * Send what the server does not hold yet. Resolves when it holds the whole photo and has read it.
 * @param {string} token
 * @param {{sha256: string, bytes: ArrayBuffer}} photo
 */
export async function upload(token, photo) {
  const begun = await offsetOf(token, photo.sha256);
  try {
    await sendFrom(token, photo, begun);
  } catch (error) {
    // What lay there, after a power cut say, was not of this photo: the server forgot it, and all of it is sent.
    if (!(error instanceof Declined) || error.code !== "photo_broken" || !begun) throw error;
    await sendFrom(token, photo, 0);
  }
}

/**
 * @param {string} token
 * @param {{sha256: string, bytes: ArrayBuffer}} photo
 * @param {number} offset
 */
async function sendFrom(token, photo, offset) {
  const total = photo.bytes.byteLength;
  for (let tries = 0; offset < total && tries < 2 + total / PIECE_BYTES; tries += 1) {
    offset = await sendPiece(token, photo, offset);
  }
  if (offset < total) throw new Unreachable(t`the photo did not get through; it is sent again later`);
}

/**
 * @param {string} token
 * @param {{sha256: string, bytes: ArrayBuffer}} photo
 * @param {number} offset
 */
async function sendPiece(token, photo, offset) {
  const response = await fetchAnswer("photos/" + photo.sha256, {
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
    throw new Unreachable(t`something else than the plant's server answered`);
  }
  if (response.ok || response.status === 409) return figure(response, "Upload-Offset");
  const problem = await response.json().catch(() => ({})); // an answer without words still has its status
  throw new Declined(
    response.status,
    problem.error?.code ?? "",
    problem.error?.message ?? t`the server answered ${response.status}`,
  );
}
