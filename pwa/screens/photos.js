/**
 * Photos of a defect, far and near, as many as it takes; never where a caution forbids a camera, or before what it asks is confirmed.
 */

import { sha256, uuid7 } from "../lib/facts.js";
import { Declined, Unreachable, fetchAnswer } from "../lib/api.js";
import { isFull, read } from "../lib/db.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { cautionWords, cautionsFor, movesAway, photoGuard } from "../lib/plant.js";
import { present } from "../lib/session.js";
import { addCapture, makerOf } from "../lib/state.js";
import { toldWords } from "./parts.js";

/** @import {App, Capture, Circle, Context, Type, Zone} from "../lib/shapes" */
/** @typedef {import("../lib/html.js").Markup} Markup */

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
    return html`<p class="strong">
      No camera and no torch here: ${cautionWords(app.plant, forbids)}. Save without a photo.
    </p>`;
  if (asks.length && !view.photo_allowed) {
    return html`<p class="strong">No camera and no torch here until you have checked.</p>
      <button type="button" data-act="checked">${asks.join(". ")}: allow photos</button>
      <p>
        ${
          movesAway(app.plant, codes)
            ? t`If you cannot say so: no photo. Get out and tell ${toldWords(app.plant, codes)}. Save without a photo.`
            : t`If you cannot say so: no photo. Save without a photo.`
        }
      </p>`;
  }
  return html`<div class="pair">
      ${
        /** @type {const} */ (["far", "near"]).map(
          (which) =>
            html`<label class="button"
              >${which === "far" ? t`Far photo` : t`Near photo`}
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
 * The photos that the phone holds or the server has, as small pictures that open.
 * @param {Context} context
 * @param {string} unit  chassis
 * @param {string} defect
 * @param {string[]} recorded  hashes named by the record
 * @param {Record<string, Circle>} [circles]  of these, where the flaw is circled
 */
export function photosOf({ app, address }, unit, defect, recorded, circles = {}) {
  const taken = app.captures.filter((each) => each.defect === defect);
  if (!taken.length && !recorded.length) return "";
  const isDraft = app.drafts.some((each) => each.id === defect);
  const to = (/** @type {string} */ photo) => html`href="${address("unit", unit, "photo", defect, photo)}"`;
  return html`<div class="photos">
      ${taken.map((each) => {
        const circle = app.settings.circles[each.id];
        // Until it is made ready a recorded defect's photo is on its way and cannot be opened.
        return small(
          sourceOf(app, each.id),
          isDraft && to(each.id.split("/")[3]),
          each.view,
          circle,
          each.view === "near" ? t`near, on phone` : t`far, on phone`,
        );
      })}${recorded.map((sha) =>
        small(
          sourceOf(app, undefined, sha),
          to(sha),
          "",
          circles[sha],
          app.photos.has(sha) && !app.sent_photos.has(sha) ? t`on phone` : t("sent"),
        ),
      )}
    </div>
    ${isDraft ? html`<p class="hint">Touch a photo to circle the flaw on it, or to remove it.</p>` : ""}`;
}

/**
 * @param {Markup} source
 * @param {Markup | false} to
 * @param {string} view
 * @param {Circle | undefined} circle
 * @param {string} state
 */
function small(source, to, view, circle, state) {
  const picture = html`<img ${source} alt="${photoWords(view, circle)}" />${circle ? circleOver(circle) : ""}`;
  const kind = circle ? "shown circled" : "shown";
  return html`<figure>
    ${to ? html`<a class="${kind}" ${to}>${picture}</a>` : html`<span class="${kind}">${picture}</span>`}
    <figcaption>${circle ? t`${state}, flaw circled` : state}</figcaption>
  </figure>`;
}

/**
 * Where a picture's bytes are: a capture, a photo on the phone, or one at the server.
 * @param {App} app
 * @param {string | undefined} capture  id
 * @param {string} [sha]
 * @param {number} [edge]  of the server's, px
 */
export function sourceOf({ photos }, capture, sha = "", edge = 320) {
  if (capture) return html`data-capture="${capture}"`;
  return photos.has(sha) ? html`data-photo="${sha}"` : html`data-remote="${sha}" data-edge="${edge}"`;
}

/**
 * A photo in words.
 * @param {string} view
 * @param {Circle | null} [circle]
 */
export function photoWords(view, circle) {
  const photo = view === "near" ? t`near photo` : view === "far" ? t`far photo` : t`photo`;
  return circle ? t`${photo}; the flaw is circled` : photo;
}

/**
 * An ellipse's place, in shares of its drawing; of none, one that is not drawn.
 * @param {Circle | null} circle
 * @returns {Record<string, string>}
 */
export function ellipse(circle) {
  const [left, top, right, bottom] = circle ?? [0, 0, 0, 0];
  const share = (/** @type {number} */ value) => `${(value * 100).toFixed(2)}%`;
  return {
    cx: share((left + right) / 2),
    cy: share((top + bottom) / 2),
    rx: share((right - left) / 2),
    ry: share((bottom - top) / 2),
  };
}

/**
 * The flaw's circle over its photo: a light line on a dark one, seen on any ground. The photo gives the drawing its size
 * as it comes.
 * @param {Circle | null} circle
 */
export function circleOver(circle) {
  const { cx, cy, rx, ry } = ellipse(circle);
  return html`<svg class="flaw" aria-hidden="true">
    ${["halo", "ring"].map((line) => html`<ellipse class="${line}" cx="${cx}" cy="${cy}" rx="${rx}" ry="${ry}" />`)}
  </svg>`;
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
      ? t`This phone is full: the photo was not kept. The text can still be saved.`
      : t`Photo not kept: ${error instanceof Error ? error.message : error}.`;
    say({ text: words, shape: "not_saved" });
    return words;
  }
  say({ text: t`Saved on phone: ${photoWords(view)}`, shape: "saved" });
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
    const over = image.parentElement?.querySelector(".flaw");
    if (over) image.onload = () => over.setAttribute("viewBox", `0 0 ${image.naturalWidth} ${image.naturalHeight}`);
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
  return named.remote ? remotePicture(app, named.remote, named.edge ?? "320") : null;
}

/**
 * @param {App} app
 * @param {string} sha
 * @param {string} edge  px
 */
async function remotePicture(app, sha, edge) {
  const session = present(app.settings);
  if (!session || !app.sync.online) return null;
  try {
    const response = await fetchAnswer(`photos/${sha}?edge=${edge}`, { token: session.token });
    return response.ok && (response.headers.get("Content-Type") ?? "").startsWith("image/")
      ? await response.blob()
      : null;
  } catch (error) {
    // The picture's words stand in its place.
    if (error instanceof Unreachable || error instanceof Declined) return null;
    throw error;
  }
}
