/**
 * Pictures of the views: kept on the phone for work without signal, and bent to the drawing of a screen, whose axes are
 * stretched so that each zone takes a thumb.
 */

import { Unreachable, fetchAnswer } from "./api.js";
import { isFull } from "./db.js";
import { sha256 } from "./facts.js";
import { t } from "./language.js";
import { decoded } from "./picture.js";

/** @import {Laid, ViewPicture} from "./shapes" */

const KEPT = "view-pictures"; // no version of the app in its name: it outlives an update
const MOST_SCALE = 2; // device pixels for one of ours; more is not seen in daylight
const MOST_PIXELS = 4_000_000; // a view of very many zones is drawn larger than any screen

/** @param {string} sha */
const addressOf = (sha) => `/api/v1/photos/${sha}`;

/**
 * Keep each picture that the plant's tables name and let go of those that they no longer do. One that does not come now
 * comes after the next round; until then the outlines stand in its place. Returns whether any came.
 * @param {ViewPicture[]} pictures
 * @param {string} token
 */
export async function keepPictures(pictures, token) {
  const cache = await caches.open(KEPT);
  const wanted = new Set(pictures.map((each) => each.sha256));
  const held = (await cache.keys()).map((each) => new URL(each.url).pathname.split("/").pop() ?? "");
  await Promise.all(held.filter((sha) => !wanted.has(sha)).map((sha) => cache.delete(addressOf(sha))));
  let came = false;
  for (const sha of wanted) {
    if (held.includes(sha)) continue;
    try {
      came = (await keep(cache, sha, token)) || came;
    } catch (error) {
      // What is left of a full phone is for records; without signal none of them comes.
      if (isFull(error) || error instanceof Unreachable) break;
      throw error;
    }
  }
  return came;
}

/**
 * @param {Cache} cache
 * @param {string} sha
 * @param {string} token
 */
async function keep(cache, sha, token) {
  const response = await fetchAnswer(`photos/${sha}`, { token });
  if (!response.ok) return false;
  const bytes = await response.arrayBuffer().catch((error) => {
    throw new Unreachable(t`the answer broke off: ${error}`);
  });
  if ((await sha256(bytes)) !== sha) return false; // half of it, or something that somebody else put in between
  const headers = { "Content-Type": response.headers.get("Content-Type") ?? "" };
  await cache.put(addressOf(sha), new Response(bytes, { headers }));
  return true;
}

/**
 * A view's picture as the drawing on the screen has it, null where this phone does not hold it or cannot read it.
 * @param {Laid} laid
 * @returns {Promise<Blob | null>}
 */
export async function bent({ picture, map }) {
  const found = await (await caches.open(KEPT)).match(addressOf(picture.sha256));
  if (!found) return null;
  const image = await decoded(await found.blob()).catch(() => null); // the outlines stand in its place
  if (!image) return null;
  const scale = Math.min(MOST_SCALE, devicePixelRatio || 1, Math.sqrt(MOST_PIXELS / (map.width * map.height)));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(map.width * scale);
  canvas.height = Math.round(map.height * scale);
  const pen = canvas.getContext("2d");
  if (!pen) return null;
  const [left, bottom, right, top] = picture.corners;
  const across = pieces([left, right], map.stops[0], map.ends[0]);
  const up = pieces([bottom, top], map.stops[1], map.ends[1]);
  const from = (/** @type {number} */ mm, /** @type {number} */ low, /** @type {number} */ high) =>
    (mm - low) / (high - low);
  for (const [x0, x1] of across) {
    for (const [y0, y1] of up) {
      const [dx0, dy1] = map.place([x0, y0]).map((px) => Math.round(px * scale));
      const [dx1, dy0] = map.place([x1, y1]).map((px) => Math.round(px * scale));
      const [sx0, sx1] = [from(x0, left, right) * picture.width, from(x1, left, right) * picture.width];
      const [sy0, sy1] = [from(y1, top, bottom) * picture.height, from(y0, top, bottom) * picture.height];
      if (dx1 > dx0 && dy1 > dy0) pen.drawImage(image, sx0, sy0, sx1 - sx0, sy1 - sy0, dx0, dy0, dx1 - dx0, dy1 - dy0);
    }
  }
  if ("close" in image) image.close();
  return new Promise((resolve) => canvas.toBlob(resolve, "image/webp", 0.85));
}

/**
 * The stretches of a side in which the drawing's scale is one, within what the drawing shows.
 * @param {[number, number]} side  mm, the picture's
 * @param {number[]} stops  mm, where the scale changes
 * @param {[number, number]} ends  mm, what the drawing shows
 * @returns {[number, number][]}
 */
function pieces([low, high], stops, ends) {
  const [from, to] = [Math.max(low, ends[0]), Math.min(high, ends[1])];
  const places = [from, ...stops.filter((stop) => stop > from && stop < to), to];
  return places.slice(1).map((place, index) => [places[index], place]);
}
