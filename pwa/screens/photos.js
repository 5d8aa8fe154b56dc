/**
 * Photos of a defect: one far, one near; never where a caution forbids a camera, or before what it asks is confirmed.
 */

import { sha256, uuid7 } from "../lib/facts.js";
import { Declined, Unreachable, fetchAnswer } from "../lib/api.js";
import { isFull, read } from "../lib/db.js";
import { html } from "../lib/html.js";
import { cautionsFor, movesAway, photoGuard } from "../lib/plant.js";
import { present } from "../lib/session.js";
import { addCapture, makerOf } from "../lib/state.js";
import { toldWords } from "./parts.js";

/** @import {App, Capture, Context, Type, Zone} from "../lib/shapes" */

/**
 * @param {Context} context
 * @param {Zone} zone
 * @param {Type | undefined} type
 */
export function photoButtons({ app, view }, zone, type) {
  if (!app.plant) return "";
  const codes = cautionsFor(zone, type);
  const { forbids, asks } = photoGuard(app.plant, codes);
  if (forbids)
    return html`<p class="strong">No camera and no torch here: caution ${forbids}. Save without a photo.</p>`;
  if (asks.length && !view.photo_allowed) {
    return html`<p class="strong">No camera and no torch here until you have checked.</p>
      <button type="button" data-act="checked">${asks.join(". ")}: allow photos</button>
      <p>
        If you cannot say so: no photo.
        ${movesAway(app.plant, codes) ? html`Get out and tell ${toldWords(app.plant, codes)}. ` : ""}Save without a
        photo.
      </p>`;
  }
  return html`<div class="pair">
      ${
        /** @type {const} */ (["far", "near"]).map(
          (which) =>
            html`<label class="button"
              >${which === "far" ? "Far photo" : "Near photo"}
              <input
                class="visually-hidden"
                type="file"
                accept="image/*"
                capture="environment"
                data-file="photo"
                data-view="${which}"
            /></label>`,
        )
      }
    </div>
    <p class="hint">No faces, no plates of other vehicles. Position data is left out.</p>`;
}

/**
 * The photos that the phone holds or the server has, as small pictures.
 * @param {Context} context
 * @param {string} defect
 * @param {string[]} recorded  hashes named by the record
 */
export function photosOf({ app }, defect, recorded) {
  const taken = app.captures.filter((each) => each.defect === defect);
  if (!taken.length && !recorded.length) return "";
  return html`<div class="photos">
    ${taken.map(
      (each) =>
        html`<figure>
          <img data-capture="${each.id}" alt="${each.view} photo" />
          <figcaption>${each.view}, on phone</figcaption>
        </figure>`,
    )}${recorded.map(
      (sha) =>
        html`<figure>
          <img ${app.photos.has(sha) ? html`data-photo="${sha}"` : html`data-remote="${sha}"`} alt="photo" />
          <figcaption>${app.photos.has(sha) && !app.sent_photos.has(sha) ? "on phone" : "sent"}</figcaption>
        </figure>`,
    )}
  </div>`;
}

/**
 * Keep what the camera gave, at once. Returns why it could not be kept, "" when it was.
 * @param {Context} context
 * @param {HTMLElement} element
 * @param {{unit: string, defect: string}} subject
 * @returns {Promise<string>}
 */
export async function takePhoto({ app, say }, element, { unit, defect }) {
  const input = /** @type {HTMLInputElement} */ (element);
  const file = input.files?.[0];
  if (!file) return "";
  const bytes = await file.arrayBuffer();
  input.value = ""; // the same file chosen again is another photo
  const view = input.dataset.view === "near" ? "near" : "far";
  /** @type {Capture} */
  const capture = {
    id: `${defect}/${unit}/${view}/${uuid7()}`,
    defect,
    unit,
    view,
    bytes,
    type: file.type,
    sha256: await sha256(bytes),
    maker: makerOf(app),
    taken_ms: Date.now(),
  };
  try {
    await addCapture(app, capture);
  } catch (error) {
    const words = isFull(error)
      ? "This phone is full: the photo was not kept. The text can still be saved."
      : `Photo not kept: ${error instanceof Error ? error.message : error}.`;
    say({ text: words, shape: "not_saved" });
    return words;
  }
  say({ text: `Saved on phone: ${view} photo`, shape: "saved" });
  return "";
}

/** @type {string[]} */
let urls = [];

/**
 * Fill the small pictures of the page from the disk or the server, and let the last page's go.
 * @param {App} app
 */
export async function showPictures(app) {
  const images = [...document.querySelectorAll("img")];
  urls.filter((url) => !images.some((image) => image.src === url)).forEach((url) => URL.revokeObjectURL(url));
  urls = urls.filter((url) => images.some((image) => image.src === url));
  for (const image of images.filter((each) => !each.src)) {
    const blob = await pictureOf(app, image.dataset);
    if (!blob) continue;
    image.src = URL.createObjectURL(blob);
    urls.push(image.src);
  }
}

/**
 * @param {App} app
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
 * @param {App} app
 * @param {string} sha
 */
async function remotePicture(app, sha) {
  const session = present(app.settings);
  if (!session || !app.sync.online) return null;
  try {
    const response = await fetchAnswer(`photos/${sha}?edge=320`, { token: session.token });
    return response.ok && (response.headers.get("Content-Type") ?? "").startsWith("image/")
      ? await response.blob()
      : null;
  } catch (error) {
    // The picture's words stand in its place.
    if (error instanceof Unreachable || error instanceof Declined) return null;
    throw error;
  }
}
