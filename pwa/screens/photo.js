/** One photo as large as the screen: the flaw circled on it by finger, beside its bytes; before saving it may go. */

import { circleOf, isTap, sized } from "../lib/circling.js";
import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { typeOf } from "../lib/plant.js";
import { addCapture, circleCapture, dropCapture, save, unitOf } from "../lib/state.js";
import { gone } from "./parts.js";
import { circleOver, ellipse, photoWords, sourceOf } from "./photos.js";

/** @import {Circle, Context, Screen} from "../lib/shapes" */

const READING_MS = 1000; // a second tap on the small photo falls on the large one: it circles nothing

/** @typedef {NonNullable<ReturnType<typeof place>>} Here */

/** @type {Screen} */
export const photoScreen = {
  path: "unit/:chassis/photo/:defect/:photo",
  keeps: ["circle"],
  page(context) {
    const here = place(context);
    if (!here) return gone(context, t`This photo is not here any more: it was sent, or removed.`);
    const { view } = context;
    const circle = circleNow(context, here);
    view.opened ??= performance.now();
    view.first ??= { circle }; // the markup stays as it was at first: a stroke changes the picture in its place
    return {
      title: t`Photo`,
      body: html`<p class="sides">${here.may_circle ? t`Draw round it, or touch it` : here.type}</p>
        <figure class="large" ${here.may_circle ? html`data-press="stroke"` : ""}>
          <img ${here.source} alt="${photoWords(here.view, view.first.circle)}" draggable="false" />${circleOver(
            view.first.circle,
          )}
        </figure>`,
      strip: html`<p>${circle ? t`The flaw is circled.` : t`Nothing is circled.`}</p>`,
      actions: html`<div class="circling">
        ${here.may_circle ? circlingKeys(here, view, circle) : ""}${backKey(context, here)}
      </div>`,
    };
  },
  acts: {
    stroke,
    larger: (context) => change(context, (before) => sized(before, 1)),
    smaller: (context) => change(context, (before) => sized(before, -1)),
    away: (context) => change(context, () => null),
    keep: keepRecorded,
    remove: removeCapture,
  },
};

/**
 * A photo of an open draft, or one that the record names. It is circled where it was taken: the operation that names it
 * is here.
 * @param {Context} context
 */
function place({ app, params, session, may }) {
  const unit = unitOf(app, params.chassis);
  const draft = app.drafts.find((each) => each.id === params.defect);
  const defect = unit?.defects.find((each) => each.id === params.defect);
  const capture = app.captures.find((each) => each.defect === draft?.id && each.id.endsWith(`/${params.photo}`));
  const is_recorded = defect?.photos.includes(params.photo);
  if (!unit || !app.plant || !(capture || is_recorded)) return null;
  const named = app.entries.findLast((each) => {
    const { kind, op } = each;
    return kind === "photo_attached" && op.body.sha256 === params.photo && op.body.defect === params.defect;
  });
  const type = draft?.type ?? defect?.type ?? "";
  const standing = defect?.state === "open" || defect?.state === "repaired";
  return {
    capture,
    named,
    circle: (capture ? app.settings.circles[capture.id] : defect?.circles?.[params.photo]) ?? null,
    may_circle: draft ? draft.person === session?.person.code : !!named && standing && may("photo_attached"),
    source: sourceOf(app, capture?.id, params.photo, 1280),
    type: typeOf(app.plant, type)?.name ?? type,
    view: capture?.view ?? named?.op.body.view ?? "",
  };
}

/**
 * @param {Context} context
 * @param {Here} here
 * @returns {Circle | null}
 */
function circleNow({ view }, { circle }) {
  return view.circle === undefined ? circle : view.circle;
}

/**
 * @param {Here} here
 * @param {Record<string, any>} view
 * @param {Circle | null} circle
 */
function circlingKeys({ capture }, view, circle) {
  const key = (/** @type {string} */ act, /** @type {string} */ sign, /** @type {string} */ words) =>
    html`<button
      type="button"
      aria-label="${words}"
      data-act="${act}"
      ${circle || act === "larger" ? "" : html`disabled`}
    >
      <span class="sign-key" aria-hidden="true">${sign}</span><span class="word">${words}</span>
    </button>`;
  return html`${key("smaller", "−", t`Smaller`)}${key("larger", "+", t`Larger`)}${key("away", "", t`No circle`)}
  ${
    capture
      ? html`<button type="button" class="half" data-act="remove">Remove this photo</button>`
      : html`<button type="button" class="half main" data-act="keep" ${view.circle === undefined ? html`disabled` : ""}>
          Save
        </button>`
  }`;
}

/**
 * @param {Context} context
 * @param {Here} here
 */
function backKey({ address, params }, { capture, may_circle }) {
  const back = address("unit", params.chassis, capture ? "draft" : "defect", params.defect);
  return html`<a class="button ${may_circle ? "half" : ""} ${capture ? "main" : ""}" href="${back}">Back</a>`;
}

/**
 * Another circle: of a draft's photo kept at once, of a recorded one by the key that saves it.
 * @param {Context} context
 * @param {(before: Circle | null) => Circle | null} to
 */
async function change(context, to) {
  const { app, view, say, redraw } = context;
  const here = place(context);
  if (!here?.may_circle) return;
  const circle = to(circleNow(context, here));
  show(circle);
  if (!here.capture) view.circle = circle;
  else {
    await circleCapture(app, here.capture.id, circle);
    say({
      text: circle ? t`Saved on phone: the flaw is circled` : t`Saved on phone: no circle on the photo`,
      shape: "saved",
    });
  }
  redraw();
}

const overlay = () => /** @type {SVGSVGElement | null} */ (document.querySelector(".large .flaw"));

/** @param {Circle | null} circle */
function show(circle) {
  for (const line of overlay()?.children ?? [])
    for (const [name, value] of Object.entries(ellipse(circle))) line.setAttribute(name, value);
}

/**
 * A finger on the photo, from its touch to its lifting.
 * @param {Context} context
 * @param {HTMLElement} photo
 * @param {Event} event
 */
async function stroke(context, photo, event) {
  const here = place(context);
  const over = overlay();
  const matrix = over?.getScreenCTM();
  const shown = over?.viewBox.baseVal;
  if (!here || !(event instanceof PointerEvent) || !event.isPrimary || !matrix || !shown?.width) return;
  event.preventDefault();
  const before = circleNow(context, here);
  const size = { width: shown.width * matrix.a, height: shown.height * matrix.d };
  /** @type {[number, number][]} */
  const points = [];
  const isEarly = event.timeStamp - context.view.opened < READING_MS;
  const meant = () => (isEarly && isTap(points) ? before : circleOf(points, size, before));
  const follow = (/** @type {PointerEvent} */ at) => {
    points.push([at.clientX - matrix.e - shown.x, at.clientY - matrix.f - shown.y]);
    show(meant());
  };
  follow(event);
  photo.setPointerCapture(event.pointerId);
  const lifted = await new Promise((resolve) => {
    photo.onpointermove = follow;
    photo.onpointerup = () => resolve(true);
    photo.onpointercancel = () => resolve(false);
  });
  photo.onpointermove = null;
  const circle = lifted ? meant() : before;
  if (circle === before) return show(before);
  await change(context, () => circle);
}

/**
 * The circle of a recorded photo is another operation: it names the photo once more.
 * @param {Context} context
 */
async function keepRecorded(context) {
  const { app, params, view, sync, say, replace } = context;
  const here = place(context);
  if (!here?.named || view.circle === undefined) return;
  const body = { ...here.named.op.body, circle: view.circle };
  await save(app, [fact("photo_attached", params.chassis, body, { deps: [params.defect] })]);
  sync("circle");
  say({
    text: view.circle ? t`Saved on phone: the flaw is circled` : t`Saved on phone: no circle on the photo`,
    shape: "saved",
  });
  replace("unit", params.chassis, "defect", params.defect);
}

/** @param {Context} context */
async function removeCapture(context) {
  const { app, params, say, replace } = context;
  const here = place(context);
  if (!here?.capture || !here.may_circle) return;
  const kept = await dropCapture(app, here.capture.id);
  if (kept) {
    const bringBack = async (/** @type {Context} */ { redraw }) => {
      await addCapture(app, kept);
      if (here.circle) await circleCapture(app, kept.id, here.circle);
      redraw();
    };
    say({ text: t`Removed: ${photoWords(kept.view)}.`, buttons: [{ label: t`Undo`, run: bringBack }] });
  }
  replace("unit", params.chassis, "draft", params.defect);
}
