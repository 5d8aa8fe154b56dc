/** This phone becomes one of the plant's: by the administrator's QR code, or by the letters beneath it. */

import { Declined, Unreachable, askJson } from "../lib/api.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { languageFor } from "../lib/spoken.js";
import { setSettings } from "../lib/state.js";
import { chooseLanguage, languageChoices } from "./parts.js";

/** @import {Context, Screen} from "../lib/shapes" */

/** Stands in the address for letters that are still to be typed. */
export const TYPED = "-";

/** @type {Screen} */
export const enrolScreen = {
  path: "enrol/:letters",
  open: true,
  page({ app, params, view, address }) {
    const { device, device_secret } = app.settings;
    const typed = params.letters === TYPED;
    return {
      title: t`Enrol this phone`,
      body: html`<p>
          The plant's server takes records from its own phones alone. The administrator opens the page
          <strong>People and phones</strong> and shows a QR code with sixteen letters beneath it; it lasts ten minutes
          and serves one phone.
        </p>
        ${
          device_secret
            ? html`<p class="strong">
                This phone is enrolled as ${device}. Enrol it again only if the server no longer knows it.
              </p>`
            : ""
        }
        ${
          typed
            ? html`<label class="field" for="letters"
                >The sixteen letters
                <input
                  id="letters"
                  data-input="typed"
                  autocomplete="off"
                  autocapitalize="none"
                  spellcheck="false"
                  enterkeyhint="go"
                  maxlength="40"
              /></label>`
            : ""
        }
        ${view.problem ? html`<p class="warning" role="alert">${view.problem}</p>` : ""}
        ${languageChoices(languageFor(app.settings))}`,
      actions: html`<button type="button" class="main" data-act="enrol">
          ${view.busy ? t`Asking` : t`Enrol this phone`}
        </button>
        <a class="button" href="${address("sign-in")}">Back</a>`,
    };
  },
  acts: {
    language: chooseLanguage,
    typed({ view }, element) {
      view.letters = /** @type {HTMLInputElement} */ (element).value;
    },
    enrol,
  },
};

/** @param {Context} context */
async function enrol(context) {
  const { app, params, view, redraw, replace, say } = context;
  const letters = params.letters === TYPED ? (view.letters ?? "").trim() : params.letters;
  if (view.busy) return;
  if (!letters) {
    view.problem = t`Type the letters first.`;
    return redraw();
  }
  view.busy = true;
  view.problem = "";
  redraw();
  try {
    await take(context, letters);
  } catch (error) {
    if (error instanceof Unreachable)
      view.problem = t`The server cannot be reached. Walk to where there is signal; the QR code lasts ten minutes.`;
    else if (error instanceof Declined) view.problem = error.message;
    else throw error;
    return redraw();
  } finally {
    view.busy = false;
  }
  say({ text: t`This phone is ${app.settings.device} from now on.`, shape: "saved" });
  replace("sign-in");
}

/**
 * Take the offer. A phone that holds work, or that can prove itself, keeps its code: its records are numbered under it.
 * @param {Context} context
 * @param {string} letters
 */
async function take({ app }, letters) {
  const { device, device_secret } = app.settings;
  const keeps = device_secret || app.entries.length ? device || null : null;
  const ask = (/** @type {string | null} */ code) =>
    askJson("enrol", { method: "POST", json: JSON.stringify({ letters, device: code, device_secret }) });
  const answer = await ask(keeps).catch((error) => {
    // What proved the code went with a store that was cleared: where no work is held under it, another one will do.
    if (!(error instanceof Declined) || error.code !== "device_taken" || app.entries.length) throw error;
    return ask(null);
  });
  const anew = answer.device === device ? {} : { sessions: [], keys: [], person: "" }; // they were another phone's
  await setSettings(app, { device: answer.device, device_secret: answer.device_secret, ...anew });
}
