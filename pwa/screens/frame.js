/** The frame around every screen: demo line, what is unsent, title, body, notice, actions within the thumb's reach. */

import { age } from "../lib/clock.js";
import { html, render } from "../lib/html.js";
import { unsentOf } from "../lib/state.js";
import { lostWords } from "../lib/witness.js";
import { shape } from "./parts.js";

/** @import {Context, Notice, Page} from "../lib/shapes" */

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
  const { app } = context;
  render(
    parts().head,
    html`${app.plant?.demo ? html`<p class="demo">Demo limits, not for use</p>` : ""}
    ${standing(context)}
    <h1 tabindex="-1">${page.title}</h1>`,
  );
  document.title = `${page.title} · Daybay`;
}

/**
 * How much is unsent and how old, and every warning that stands.
 * @param {Context} context
 */
function standing({ app, session, now }) {
  const { records, photos, oldest_ms } = unsentOf(app);
  const waiting = oldest_ms === null ? 0 : Math.max(0, Date.now() - oldest_ms);
  const count = records.length + photos;
  const words = count ? `${unsentWords(records.length, photos)} not sent${oldest_ms === null ? "" : `, ${age(waiting)}`}` : app.settings.lost ? "Store was cleared" : "All sent";
  return html`<p class="standing">
      <span class="sync" data-sync="${count ? "saved" : "sent"}">${shape(count ? "saved" : "sent")} ${words}</span>
      <span>${app.sync.running ? "Syncing" : app.sync.online ? "Server" : "No server"}</span>
    </p>
    ${waiting >= WARN_MS ? warning("Unsent for over two hours. Walk to where there is signal, or export the file in the outbox.") : ""}
    ${app.settings.lost ? warning(lostWords(app.settings.lost)) : ""}
    ${app.storage.free_bytes !== null && app.storage.free_bytes < LITTLE_BYTES ? warning("This phone is nearly full. Sync so that sent photos can go; the text of a defect still has its place.") : ""}
    ${app.not_saved ? warning(`Not saved: ${app.not_saved}`) : ""}
    ${app.worker.failed ? warning("Read only: the app cannot work without signal here. See Settings, install guide.") : ""}
    ${app.storage.persisted === false && session ? warning("Storage may be cleared: Settings") : ""}
    ${session && (session.ended || now() >= session.ends_ms) ? warning("Your sign-in has ended. Sign in again; what is recorded is kept.") : ""}`;
}

/**
 * @param {number} records
 * @param {number} photos
 */
function unsentWords(records, photos) {
  const many = (/** @type {number} */ count, /** @type {string} */ word) => `${count} ${word}${count === 1 ? "" : "s"}`;
  return [records ? many(records, "record") : "", photos ? many(photos, "photo") : ""].filter(Boolean).join(", ");
}

/** @param {string} words */
function warning(words) {
  return html`<p class="warning">${shape("not_saved")} ${words}</p>`;
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
