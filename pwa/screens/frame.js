/** The frame around every screen: what is unsent and refused, title, the way out, body, notice, actions within reach. */

import { age } from "../lib/clock.js";
import { html, render } from "../lib/html.js";
import { refusedOf, unsentOf } from "../lib/state.js";
import { lostWords } from "../lib/witness.js";
import { draftRow, ownDrafts } from "./drafts.js";
import { shape } from "./parts.js";

/** @import {App, Context, Notice, Page} from "../lib/shapes" */

/** @typedef {import("../lib/html.js").Markup} Markup */

const WARN_MS = 2 * 3600 * 1000;
const LITTLE_BYTES = 50_000_000; // about ten photos as the camera gives them

const parts = () => ({
  head: /** @type {HTMLElement} */ (document.querySelector("header")),
  main: /** @type {HTMLElement} */ (document.querySelector("main")),
  notice: /** @type {HTMLElement} */ (document.querySelector("[role=status]")),
  actions: /** @type {HTMLElement} */ (document.querySelector("footer")),
});

/**
 * @param {Context} context
 * @param {Page} page
 */
export function drawHead(context, page) {
  const { app, address, session, params } = context;
  const open = ownDrafts(context).filter((draft) => draft.id !== params.draft && draft.id !== params.defect);
  const refused = refusedOf(app).length;
  render(
    parts().head,
    html`${app.plant?.demo ? html`<p class="demo">Demo limits, not for use</p>` : ""}
    <div class="bar">
      ${session ? html`<a class="standing" href="${address("outbox")}"><span class="visually-hidden">Outbox: </span>${standing(app, refused)}</a>` : ""}
      <h1 tabindex="-1">${page.title}</h1>
      <a class="menu" href="${address("menu")}"><span aria-hidden="true">☰</span> Menu</a>
    </div>
    ${warnings(context).map((words) => html`<p class="warning">${shape("not_saved")} ${words}</p>`)}
    ${open.slice(-1).map((draft) => draftRow(context, draft))}`,
  );
  document.title = `${page.title} · Daybay`;
}

/**
 * One sign for what the server has: what it refused comes first, then what it does not have yet.
 * @param {App} app
 * @param {number} refused
 */
function standing(app, refused) {
  const { records, photos, waiting } = unsentOf(app);
  const state = refused ? "refused" : records.length + photos + waiting ? "saved" : "sent";
  const server = app.sync.running ? "Syncing" : app.sync.online ? "" : "No server";
  return html`<span class="sync" data-sync="${state}">${shape(state)} ${sendWords(app)}</span>${server ? html` <span>${server}</span>` : ""}`;
}

/**
 * What the server refused, what it lacks and for how long; "All sent" only where it has taken everything.
 * @param {App} app
 */
export function sendWords(app) {
  const { records, photos, waiting, oldest_ms } = unsentOf(app);
  const refused = refusedOf(app).length;
  const unsent = records.length + photos ? `${unsentWords(records.length, photos)} not sent${oldest_ms === null ? "" : `, ${age(Math.max(0, Date.now() - oldest_ms))}`}` : "";
  const held = waiting ? `${waiting} held at the server` : "";
  return [refused ? `${refused} refused` : "", unsent, held].filter(Boolean).join("; ") || (app.settings.lost ? "Store was cleared" : "All sent");
}

/**
 * Every warning that stands, in words.
 * @param {Context} context
 * @returns {string[]}
 */
export function warnings({ app, session, now }) {
  const { oldest_ms } = unsentOf(app);
  return [
    oldest_ms !== null && Date.now() - oldest_ms >= WARN_MS ? "Unsent for over two hours. Walk to where there is signal, or export the file in the outbox." : "",
    app.settings.history_differs_ms ? "The server's record is not the one that this phone saw. What you record is kept here. Tell the quality manager and the administrator; release nothing." : "",
    app.settings.lost ? lostWords(app.settings.lost) : "",
    app.storage.free_bytes !== null && app.storage.free_bytes < LITTLE_BYTES ? "This phone is nearly full. Sync so that sent photos can go; the text of a defect still has its place." : "",
    app.not_saved ? `Not saved: ${app.not_saved}` : "",
    app.worker.failed ? "Read only: the app cannot work without signal here. See Settings, install guide." : "",
    app.storage.persisted === false && session ? "Storage may be cleared: Settings" : "",
    session && (session.ended || now() >= session.ends_ms) ? "Your sign-in has ended. Sign in again; what is recorded is kept." : "",
  ].filter(Boolean);
}

/**
 * @param {number} records
 * @param {number} photos
 */
function unsentWords(records, photos) {
  const many = (/** @type {number} */ count, /** @type {string} */ word) => `${count} ${word}${count === 1 ? "" : "s"}`;
  return [records ? many(records, "record") : "", photos ? many(photos, "photo") : ""].filter(Boolean).join(", ");
}

/**
 * @param {Page} page
 * @param {Notice | null} notice
 */
export function drawPage(page, notice) {
  const { main, actions } = parts();
  drawNotice(notice);
  render(actions, page.actions ?? html``);
  if (typeof page.body !== "function") return render(main, page.body);
  const { paddingLeft, paddingTop } = getComputedStyle(main);
  const room = { width: main.clientWidth - 2 * parseFloat(paddingLeft), height: main.clientHeight - 2 * parseFloat(paddingTop) };
  return render(main, page.body(room));
}

/** @param {Notice | null} notice */
export function drawNotice(notice) {
  render(
    parts().notice,
    notice
      ? html`<p class="notice-text">${notice.shape ? shape(notice.shape) : ""} ${notice.text}</p>
          ${notice.buttons?.length ? html`<div class="notice-buttons">${notice.buttons.map(
            (button, place) => html`<button type="button" data-notice="${place}">${button.label}</button>`,
          )}</div>` : ""}`
      : html``,
  );
}
