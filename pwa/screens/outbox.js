/** What this phone holds that the server does not, and what the server refused: in four words. */

import { ago } from "../lib/clock.js";
import { download, exportFile } from "../lib/export.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { reloadOwn, setSettings, unsentOf } from "../lib/state.js";
import { makeAllReady } from "../lib/sync.js";
import { removePhoto } from "../lib/unsendable.js";
import { captureOf } from "../lib/photo.js";
import { lostWords } from "../lib/witness.js";
import { syncMark } from "./parts.js";
import { entryWords, refusedActs, refusedCards } from "./refused.js";

/** @import {Context, Screen} from "../lib/shapes" */

const MOST = 100;

/** @type {Screen} */
export const outboxScreen = {
  path: "outbox",
  live: true,
  page(context) {
    const { app, address } = context;
    const { records, photos, waiting } = unsentOf(app);
    const sent = app.entries
      .filter((entry) => app.verdicts.get(entry.seq)?.verdict === "applied")
      .slice(-10)
      .reverse();
    return {
      title: t`Outbox`,
      body: html`${
          app.settings.lost
            ? html`<p class="warning">${lostWords(app.settings.lost)}</p>
                <button type="button" data-act="lost">I have read this</button>`
            : ""
        }
        ${app.sync.problem ? html`<p class="warning">${app.sync.problem}</p>` : ""}
        ${app.not_saved ? html`<p>${syncMark("not_saved")} ${app.not_saved}</p>` : ""} ${refusedCards(context)}
        ${
          app.refused_photos.size
            ? html`<h2>${syncMark("refused")}: photos ${app.refused_photos.size}</h2>
                <ul class="list">
                  ${[...app.refused_photos].map(([id, why]) => photoRow(context, id, why))}
                </ul>`
            : ""
        }
        ${
          waiting
            ? html`<p class="strong">
                ${waiting} held at the server: without effect until what they rest on has come, such as the plan of
                their unit.
              </p>`
            : ""
        }
        <h2>${syncMark("saved")}: ${records.length} records, ${photos} photos</h2>
        ${
          records.length
            ? html`<ul class="list">
                ${records
                  .slice(0, MOST)
                  .map(
                    (entry) =>
                      html`<li class="plain">${entryWords(app, entry)}, ${ago(Date.now() - entry.saved_ms)}</li>`,
                  )}
              </ul>`
            : html`<p>Nothing waits on this phone.</p>`
        }
        ${records.length > MOST ? html`<p>and ${records.length - MOST} more.</p>` : ""}
        <h2>${syncMark("sent")}: the last ${sent.length}</h2>
        <ul class="list">
          ${sent.map((entry) => html`<li class="plain">${entryWords(app, entry)}</li>`)}
        </ul>`,
      actions: html`<button type="button" class="main" data-act="sync">
          ${app.sync.running ? t`Syncing` : t`Sync now`}
        </button>
        <button type="button" data-act="export" ${records.length + photos ? "" : html`disabled`}>
          Export all that is unsent (one file)
        </button>
        <a class="button" href="${address("units")}">Units in work</a>`,
    };
  },
  acts: {
    sync: ({ sync }) => sync("button"),
    async lost({ app, redraw }) {
      await setSettings(app, { lost: null });
      redraw();
    },
    async remove({ app, say, sync, redraw }, element) {
      await removePhoto(app, element.dataset.value ?? "");
      sync("photo removed");
      say({ text: t`Photo removed. The record says that there was one, and why it went.`, shape: "saved" });
      redraw();
    },
    async export({ app, say }) {
      await makeAllReady(app.db);
      await reloadOwn(app);
      const blob = await exportFile(app.db, app.settings, unsentOf(app).records, app.sent_photos);
      download(
        blob,
        `unsent-${app.settings.device || "phone"}-${new Date().toISOString().slice(0, 16).replace(/[:T]/g, "-")}.json`,
      );
      say({ text: t`Exported. The records stay on this phone until the server has them.`, shape: "saved" });
    },
    ...refusedActs,
  },
};

/**
 * A photo that cannot be sent: which, why, and the way out.
 * @param {Context} context
 * @param {string} id
 * @param {string} why
 */
function photoRow({ app }, id, why) {
  const isCapture = app.captures.some((each) => each.id === id);
  const defect = isCapture
    ? captureOf(id).defect
    : app.entries.find((each) => each.op.body.sha256 === id)?.op.body.defect;
  const entry = app.entries.find((each) => each.id === defect);
  return html`<li class="card">
    <p class="strong">${entry ? t`Photo of ${entryWords(app, entry)}` : t`Photo of a defect`}</p>
    <p>Not sent: ${why}.</p>
    <p>The text of the defect is sent without it.</p>
    <button type="button" data-act="remove" data-value="${id}">Remove this photo</button>
  </li>`;
}
