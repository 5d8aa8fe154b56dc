/** Fills the small pictures of a page from the phone's disk or the server, and lets their memory go afterwards. */

import { Declined, Unreachable, fetchAnswer } from "../lib/api.js";
import { read } from "../lib/db.js";
import { present } from "../lib/session.js";

/** @type {string[]} */
let urls = [];

/** @param {import("../lib/state.js").App} app */
export async function showPictures(app) {
  urls.forEach((url) => URL.revokeObjectURL(url));
  urls = [];
  for (const image of document.querySelectorAll("img")) {
    const blob = await pictureOf(app, image.dataset);
    if (!blob) continue;
    image.src = URL.createObjectURL(blob);
    urls.push(image.src);
  }
}

/**
 * @param {import("../lib/state.js").App} app
 * @param {DOMStringMap} named
 * @returns {Promise<Blob | null>}
 */
async function pictureOf(app, named) {
  if (named.capture) {
    const capture = await read(app.db, "captures", named.capture);
    return capture ? new Blob([capture.bytes], { type: capture.type }) : null;
  }
  if (named.photo) {
    const photo = await read(app.db, "photos", named.photo);
    return photo ? new Blob([photo.bytes], { type: "image/jpeg" }) : null;
  }
  return named.remote ? remotePicture(app, named.remote) : null;
}

/**
 * @param {import("../lib/state.js").App} app
 * @param {string} sha
 */
async function remotePicture(app, sha) {
  const session = present(app.settings);
  if (!session || !app.sync.online) return null;
  try {
    const response = await fetchAnswer(`photos/${sha}?edge=320`, { token: session.token });
    return response.ok && (response.headers.get("Content-Type") ?? "").startsWith("image/") ? await response.blob() : null;
  } catch (error) {
    if (error instanceof Unreachable || error instanceof Declined) return null; // the picture's words stand in its place
    throw error;
  }
}
