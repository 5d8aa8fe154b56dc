/**
 * The frame around every screen: what is unsent and refused, title, the way out, body, notice, actions within reach.
 */

import { age } from "../lib/clock.js";
import { html, render } from "../lib/html.js";
import { counted, t } from "../lib/language.js";
import { languageMissing } from "../lib/spoken.js";
import { refusedOf, unsentOf } from "../lib/state.js";
import { lostWords } from "../lib/witness.js";
import { ownDrafts } from "./drafts.js";
import { shape } from "./parts.js";

/** @import {App, Context, Notice, Page} from "../lib/shapes" */

/** @typedef {import("../lib/html.js").Markup} Markup */

const WARN_MS = 2 * 3600 * 1000;
const LITTLE_BYTES = 50_000_000; // about ten photos as the camera gives them

const parts = () => ({
  head: /** @type {HTMLElement} */ (document.querySelector("header")),
  main: /** @type {HTMLElement} */ (document.querySelector("main")),
  notice: /** @type {HTMLElement} */ (document.querySelector("[role=status]")),
  strip: /** @type {HTMLElement} */ (document.querySelector("aside")),
  actions: /** @type {HTMLElement} */ (document.querySelector("footer")),
});

/**
 * @param {Context} context
 * @param {Page} page
 */
export function drawHead(context, page) {
  const { app, address, session, params } = context;
  const open = ownDrafts(context).findLast((draft) => draft.id !== params.draft && draft.id !== params.defect);
  const [urgent, others] = [urgentWords(context), warnings(context)];
  const signs = others.length;
  const demo = app.plant?.demo;
  render(
    parts().head,
    html`<div class="bar">
        ${session ? html`<a class="standing" href="${address("outbox")}">${standing(app)}</a>` : ""}
        ${page.short ? html`<p class="head-words">${page.short}</p>` : html`<h1 tabindex="-1">${page.title}</h1>`}
        ${
          open
            ? html`<a class="signs unfinished" href="${address("unit", open.unit, "draft", open.id)}"
                ><span class="visually-hidden">Not saved yet: a defect</span
                ><span aria-hidden="true">${shape("not_saved")}1</span><span aria-hidden="true">Draft</span></a
              >`
            : signs || demo
              ? html`<a class="signs" href="${address("menu")}"
                  >${signs ? html`<span class="visually-hidden">${signsWords(others)} </span>` : ""}
                  ${
                    signs ? html`<span aria-hidden="true">${shape("not_saved")}${signs}</span>` : ""
                  }${demo ? html`<span><span aria-hidden="true">Demo</span><span class="visually-hidden">Demo limits, not for use</span></span>` : ""}</a
                >`
              : ""
        }
        <a class="menu" href="${address("menu")}"
          ><span aria-hidden="true">☰</span
          ><span class="visually-hidden">Menu</span>${session ? html`<span>${session.person.code}</span>` : ""}</a
        >
      </div>
      ${urgent.map((words) => html`<p class="warning">${shape("not_saved")} ${words}</p>`)}`,
  );
  document.title = `${page.title} · Daybay`;
}

/**
 * One sign for what the server has: what it refused comes first, then what it does not have yet and for how long.
 * @param {App} app
 */
function standing(app) {
  const { records, photos, waiting, oldest_ms } = unsentOf(app);
  const refused = refusedOf(app).length;
  const unsent = records.length + photos + waiting;
  const state = refused ? "refused" : unsent ? "saved" : "sent";
  const server = app.sync.running ? t`Syncing` : app.sync.online ? "" : t`No server`;
  const short = refused
    ? t`${refused} refused || in the head`
    : unsent
      ? t`${unsent} unsent`
      : app.settings.lost
        ? t`Cleared`
        : t`Sent || in the head`;
  const under = unsent && oldest_ms !== null ? shortAge(Date.now() - oldest_ms) : server;
  return html`<span class="visually-hidden">Outbox: ${sendWords(app)}${server ? `, ${server}` : ""}</span>
    <span class="sync" data-sync="${state}" aria-hidden="true">${shape(state)} ${short}</span
    >${under ? html`<span aria-hidden="true">${under}</span>` : ""}`;
}

/** @param {number} milliseconds */
function shortAge(milliseconds) {
  return milliseconds < 60_000 ? "< 1 min" : age(milliseconds);
}

/**
 * What the server refused, what it lacks and for how long; "All sent" only where it has taken everything.
 * @param {App} app
 */
export function sendWords(app) {
  const { records, photos, waiting, oldest_ms } = unsentOf(app);
  const refused = refusedOf(app).length;
  const unsent =
    records.length + photos
      ? `${t`${unsentWords(records.length, photos)} not sent`}${oldest_ms === null ? "" : `, ${age(Math.max(0, Date.now() - oldest_ms))}`}`
      : "";
  const held = waiting ? t`${waiting} held at the server` : "";
  return (
    [refused ? t`${refused} refused` : "", unsent, held].filter(Boolean).join("; ") ||
    (app.settings.lost ? t`Store was cleared` : t`All sent`)
  );
}

/**
 * What cannot wait for somebody to open a sign: work that is not kept or cannot be recorded, a record that is another.
 * @param {Context} context
 * @returns {string[]}
 */
export function urgentWords({ app, session, now }) {
  return [
    app.settings.history_differs_ms
      ? t`The server's record is not the one that this phone saw. What you record is kept here. Tell the quality manager and the administrator; release nothing.`
      : "",
    app.settings.lost ? lostWords(app.settings.lost) : "",
    app.not_saved ? t`Not saved: ${app.not_saved}` : "",
    app.worker.failed ? t`Read only: the app cannot work without signal here. See Settings, install guide.` : "",
    session && (session.ended || now() >= session.ends_ms)
      ? t`Your sign-in has ended. Sign in again; what is recorded is kept.`
      : "",
  ].filter(Boolean);
}

/**
 * Every other warning that stands, in words: in the head a sign with their number, which opens them.
 * @param {Context} context
 * @returns {string[]}
 */
export function warnings({ app, session }) {
  const { oldest_ms } = unsentOf(app);
  return [
    oldest_ms !== null && Date.now() - oldest_ms >= WARN_MS
      ? t`Unsent for over two hours. Walk to where there is signal, or export the file in the outbox.`
      : "",
    app.storage.free_bytes !== null && app.storage.free_bytes < LITTLE_BYTES
      ? t`This phone is nearly full. Sync so that sent photos can go; the text of a defect still has its place.`
      : "",
    languageMissing() ? t`The words of this language did not load: English is shown until there is signal` : "",
    app.worker.waiting ? t`A new version of the app is ready: Settings` : "",
    app.storage.persisted === false && session ? t`Storage may be cleared: Settings` : "",
  ].filter(Boolean);
}

/**
 * The sign's name for who does not see it: what it is, before what it says.
 * @param {string[]} warnings
 */
function signsWords(warnings) {
  return `${counted(warnings.length, "1 warning:", "{0} warnings:")} ${warnings.join(" ")}`;
}

/**
 * @param {number} records
 * @param {number} photos
 */
function unsentWords(records, photos) {
  return [
    records ? counted(records, "1 record", "{0} records") : "",
    photos ? counted(photos, "1 photo", "{0} photos") : "",
  ]
    .filter(Boolean)
    .join(", ");
}

/**
 * @param {Page} page
 * @param {Notice | null} notice
 */
export function drawPage(page, notice) {
  const { main, strip, actions } = parts();
  document.body.dataset.frame = page.strip ? "walk" : "form";
  drawNotice(notice);
  strip.setAttribute("aria-label", t`Walk`);
  render(strip, page.strip ?? html``);
  render(actions, page.actions ?? html``);
  if (typeof page.body !== "function")
    return render(
      main,
      page.short
        ? html`<h1 tabindex="-1">${page.title}</h1>
            ${page.body}`
        : page.body,
    );
  const { paddingLeft, paddingTop } = getComputedStyle(main);
  const room = {
    width: main.clientWidth - 2 * parseFloat(paddingLeft),
    height: main.clientHeight - 2 * parseFloat(paddingTop),
  };
  return render(main, page.body(room));
}

/** @param {Notice | null} notice */
export function drawNotice(notice) {
  document.body.toggleAttribute("data-told", !!notice);
  render(
    parts().notice,
    notice
      ? html`<p class="notice-text">${notice.shape ? shape(notice.shape) : ""} ${notice.text}</p>
          ${
            notice.buttons?.length
              ? html`<div class="notice-buttons">
                  ${notice.buttons.map(
                    (button, place) => html`<button type="button" data-notice="${place}">${button.label}</button>`,
                  )}
                </div>`
              : ""
          }`
      : html``,
  );
}
