/** How this phone is set, what it keeps, who is signed in, and the install guide. */

import { ago } from "../lib/clock.js";
import { html } from "../lib/html.js";
import { counted, t } from "../lib/language.js";
import { lock, signOut } from "../lib/session.js";
import { version } from "../lib/settings.js";
import { languageFor } from "../lib/spoken.js";
import { setSettings, unsentOf } from "../lib/state.js";
import { tell } from "../lib/told-by.js";
import { ownDrafts } from "./drafts.js";
import { sendWords } from "./frame.js";
import { choices, chooseLanguage, languageChoices, shape } from "./parts.js";

/** @import {Context, Page, Screen} from "../lib/shapes" */

/** @type {Screen} */
export const settingsScreen = {
  path: "settings",
  open: true,
  live: true,
  page(context) {
    const { app, session, address, view } = context;
    const { settings, worker } = app;
    if (view.leaving && session) return signOutPage(context);
    return {
      title: t`Settings`,
      body: html`<h2>Size of targets</h2>
        ${choices(
          "targets",
          t`Size of targets`,
          [
            ["standard", t`Standard`],
            ["glove", t`Gloves: larger`],
          ],
          settings.targets,
        )}
        <h2>Screen</h2>
        ${choices(
          "theme",
          t`Screen`,
          [
            ["light", t`Daylight`],
            ["dark", t`Night shift`],
          ],
          settings.theme,
        )}
        <h2>Hand</h2>
        ${choices(
          "hand",
          t`Hand`,
          [
            ["right", t`Right hand`],
            ["left", t`Left hand`],
          ],
          settings.hand,
        )}
        <h2>Language</h2>
        ${languageChoices(languageFor(settings))}
        <p>The pages for a desk speak it too; of the handbook, what is written in it.</p>
        <h2>Saved and refused</h2>
        ${choices(
          "told",
          t`Saved and refused`,
          [
            ["eye", t`Shown only`],
            ["buzz", t`A buzz too`],
            ["tone", t`A tone too`],
          ],
          settings.told_by,
          3,
        )}
        <h2>This phone</h2>
        <dl class="facts">
          <dt>Device</dt>
          <dd>${settings.device || t`not enrolled`}</dd>
          <dt>Signed in</dt>
          <dd>${session ? `${session.person.name} (${session.person.code})` : t`nobody`}</dd>
          <dt>Last whole sync</dt>
          <dd>${settings.synced_ms ? ago(Date.now() - settings.synced_ms) : t`never`}</dd>
          <dt>Clock against the server</dt>
          <dd>${offsetWords(settings.clock_offset_ms)}</dd>
          <dt>Starts without signal</dt>
          <dd>${worker.active ? t`yes` : `${t`no, read only`}${worker.failed ? `: ${worker.failed}` : ""}`}</dd>
          <dt>Records kept by the browser</dt>
          <dd>${keptWords(app.storage.persisted)}</dd>
          <dt>Free room</dt>
          <dd>
            ${app.storage.free_bytes === null ? t`not told by the browser` : `${Math.round(app.storage.free_bytes / 1e6)} MB`}
          </dd>
          <dt>Plant revision</dt>
          <dd>${app.plant?.revision.slice(0, 12) ?? t`none yet`}</dd>
          <dt>App version</dt>
          <dd>${version()}</dd>
        </dl>
        ${guide()}`,
      actions: html`${
          worker.waiting
            ? html`<button type="button" class="main" data-act="update">
                ${ownDrafts(context).length ? t`New version: save the open draft first` : t`Take the new version`}
              </button>`
            : ""
        }
        ${
          session
            ? html`<a class="button" href="${address("secret")}">Your PIN or passphrase</a>
                <div class="pair">
                  <button type="button" data-act="lock">Lock for another person</button
                  ><button type="button" data-act="asks" data-value="yes">Sign out</button>
                </div>`
            : ""
        }
        <div class="pair">
          <button type="button" data-act="sync">Sync now</button
          ><a class="button" href="${session ? address("units") : address("sign-in")}">Back</a>
        </div>`,
    };
  },
  acts: {
    async targets({ app, redraw }, element) {
      await setSettings(app, { targets: element.dataset.value === "glove" ? "glove" : "standard" });
      redraw();
    },
    async theme({ app, redraw }, element) {
      await setSettings(app, { theme: element.dataset.value === "dark" ? "dark" : "light" });
      redraw();
    },
    async hand({ app, redraw }, element) {
      await setSettings(app, { hand: element.dataset.value === "left" ? "left" : "right" });
      redraw();
    },
    async told({ app, redraw }, element) {
      const told_by = /** @type {"eye" | "buzz" | "tone"} */ (element.dataset.value);
      await setSettings(app, { told_by });
      tell(told_by, "saved");
      redraw();
    },
    language: chooseLanguage,
    sync({ sync, worker }) {
      sync("button");
      return worker.check();
    },
    update(context) {
      const { say, worker } = context;
      if (ownDrafts(context).length)
        return say({
          text: t`A defect is not saved yet. Save it or drop it, then take the new version.`,
          shape: "not_saved",
        });
      return worker.activate();
    },
    async lock({ app, replace }) {
      await lock(app.db, app.settings);
      replace("sign-in");
    },
    asks({ view, redraw }, element) {
      view.leaving = element.dataset.value === "yes";
      redraw();
    },
    async out({ app, replace }) {
      await signOut(app.db, app.settings);
      replace("sign-in");
    },
  },
};

/**
 * What signing out means here and now, asked before it is done.
 * @param {Context} context
 * @returns {Page}
 */
function signOutPage(context) {
  const { app, session } = context;
  const { records, photos } = unsentOf(app);
  const code = session?.person.code ?? "";
  const drafts = ownDrafts(context).length;
  return {
    title: t`Sign out?`,
    body: html`<p class="value">${session?.person.name} (${code})</p>
      ${
        records.length + photos
          ? html`<p class="warning">
              ${shape("saved")} ${sendWords(app)}. It stays on this phone and goes to the server after the next sign-in.
            </p>`
          : html`<p>${shape("sent")} ${sendWords(app)}.</p>`
      }
      ${
        drafts
          ? html`<p class="warning">
              ${shape("not_saved")}
              ${counted(drafts, "1 defect is not saved yet. Only {1} can save it: do it first.", "{0} defects are not saved yet. Only {1} can save them: do it first.", code)}
            </p>`
          : ""
      }
      ${
        app.sync.online
          ? html`<p>The next sign-in asks the server.</p>`
          : html`<p class="warning">
              ${shape("not_saved")} There is no signal. Once signed out, ${code} cannot come back before there is
              signal, and this phone records nothing more for ${code}. To hand it over, lock it: the PIN opens it again
              without signal.
            </p>`
      }
      <div class="groups">
        <button type="button" data-act="lock">Lock instead</button
        ><button type="button" data-act="out">Sign ${code} out</button>
      </div>`,
    actions: html`<button type="button" class="main" data-act="asks" data-value="no">Stay signed in</button>`,
  };
}

/** @param {number} offset */
function offsetWords(offset) {
  const minutes = Math.abs(offset) / 60_000;
  if (minutes < 1) return t`within a minute`;
  return offset > 0
    ? t`this phone is ${Math.round(minutes)} min slow; both times are kept`
    : t`this phone is ${Math.round(minutes)} min fast; both times are kept`;
}

/** @param {boolean | null} persisted */
function keptWords(persisted) {
  if (persisted) return t`yes, lasting`;
  return persisted === null
    ? t`this browser cannot say`
    : t`not promised: install the app on the home screen, keep free room, sync often`;
}

function guide() {
  return html`<h2 id="guide">Install guide</h2>
    <ol class="steps">
      <li>
        The address must begin with https and show no certificate warning. A warning that was tapped away is not enough:
        the app then stays read only. Ask the administrator for the plant's certificate.
      </li>
      <li>Open the app once where there is signal and wait until "Starts without signal" says yes.</li>
      <li>In the browser's menu choose "Add to home screen" or "Install app", and start it from there.</li>
      <li>
        Sign in, sync, then switch the phone to flight mode and start the app again: the units must still be there.
      </li>
    </ol>
    <p>The paper sheet with the same codes stays at hand for the day the phone fails.</p>`;
}
