/** The plant's server, as the phone hears it: an answer in the server's own shape, or no server at all. */

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
    super(message);
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
      signal: AbortSignal.timeout(asked.timeout_ms ?? TIMEOUT_MS),
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
  throw new Declined(response.status, data.error?.code ?? "", data.error?.message ?? `the server answered ${response.status}`);
}

/** @param {Response} response */
async function jsonOf(response) {
  if (!(response.headers.get("Content-Type") ?? "").startsWith("application/json")) {
    throw new Unreachable("something else than the plant's server answered");
  }
  try {
    return await response.json();
  } catch (error) {
    throw new Unreachable(`the answer broke off: ${error instanceof Error ? error.message : error}`);
  }
}

/**
 * Whether the plant's server is there: it must echo what only this call knows.
 * @param {string} token
 * @param {string} nonce
 * @returns {Promise<{server_now: number, server_epoch: string}>}
 */
export async function ping(token, nonce) {
  const answer = await askJson("ping", { method: "POST", token, json: JSON.stringify({ nonce }), timeout_ms: 8_000 });
  if (answer.nonce !== nonce) throw new Unreachable("something else than the plant's server answered");
  return answer;
}
