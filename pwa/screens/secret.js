/** One's own PIN or passphrase: who gave it, told once, and choosing another. */

import { Declined, Unreachable } from "../lib/api.js";
import { moment } from "../lib/clock.js";
import { html } from "../lib/html.js";
import { inWords, t } from "../lib/language.js";
import { setSettings } from "../lib/state.js";
import { changeOwn, givenUntold } from "../lib/signing-in.js";
import { MANAGER, asksPassphrase, has } from "../lib/roles.js";
import { shape } from "./parts.js";

/** @import {Context, Screen} from "../lib/shapes" */

/** @type {["old" | "next" | "again", string, "current-password" | "new-password"][]} */
const FIELDS = inWords([
  ["old", "The one you have now", "current-password"],
  ["next", "The new one", "new-password"],
  ["again", "The new one again", "new-password"],
]);

/** @type {Screen} */
export const secretScreen = {
  path: "secret",
  page({ app, session, view, address }) {
    const given = givenUntold(app.settings, session);
    const isManager = has(session?.person, MANAGER);
    const asks = asksPassphrase(session?.person);
    if (given.length && !view.chooses) {
      return {
        title: t`Your sign-in`,
        body: html`<p class="strong">
            ${asks ? t`Who set your passphrase of late, latest first:` : t`Who set your PIN or passphrase of late, latest first:`}
          </p>
          <ul class="list">
            ${given.map((each) => html`<li class="plain">${setter(each.by, session?.person.code ?? "")}, ${moment(each.at_ms, app.plant?.time_zone ?? "UTC")}</li>`)}
          </ul>
          <p>
            ${
              isManager
                ? t`Was one of them not at your asking? Then somebody else may have signed in as you: tell the administrator now.`
                : t`Was one of them not at your asking? Then somebody else may have signed in as you: tell the quality manager now.`
            }
          </p>
          <p>Only you should know it. Choose your own where there is signal.</p>`,
        actions: html`<button type="button" class="main" data-act="choose">Choose my own</button>
          <button type="button" data-act="known">I asked for it: go on</button>`,
      };
    }
    return {
      title: t`Your sign-in`,
      body: html`${FIELDS.map(
          ([name, words, complete]) =>
            html`<label class="field" for="${name}"
              >${t(words)}
              <input id="${name}" data-input="${name}" type="password" autocomplete="${complete}" maxlength="128"
            /></label>`,
        )}
        <p>
          ${asks ? t`Your role signs in with a passphrase: 15 characters or more, several words.` : t`A PIN has 6 to 12 figures, no run and no repeat; a passphrase has 15 characters or more.`}
          It needs signal; sign-ins elsewhere end.
        </p>
        ${view.problem ? html`<p class="warning" role="alert">${shape("not_saved")} ${view.problem}</p>` : ""}`,
      actions: html`<button type="button" class="main" data-act="change">
          ${view.busy ? t`Asking` : t`Change it`}
        </button>
        <a class="button" href="${address("units")}">Units in work</a>`,
    };
  },
  acts: {
    old({ view }, element) {
      view.old = /** @type {HTMLInputElement} */ (element).value;
    },
    next({ view }, element) {
      view.next = /** @type {HTMLInputElement} */ (element).value;
    },
    again({ view }, element) {
      view.again = /** @type {HTMLInputElement} */ (element).value;
    },
    choose({ view, redraw }) {
      view.chooses = true;
      redraw();
    },
    async known(context) {
      await noteTold(context);
      context.replace("units");
    },
    change,
  },
};

/** @param {Context} context */
async function noteTold({ app, session }) {
  if (!session?.given?.length) return;
  const secrets_told = { ...app.settings.secrets_told, [session.person.code]: session.given[0].at_ms };
  await setSettings(app, { secrets_told });
}

/** @param {Context} context */
async function change(context) {
  const { app, session, view, redraw, replace, say } = context;
  if (view.busy || !session) return;
  if (!view.old || !view.next) return complain(context, t`Give the one that you have, and the new one twice.`);
  if (view.next !== view.again)
    return complain(context, t`The new one was typed in two ways; nothing was changed. Type all three again.`);
  view.busy = true;
  view.problem = "";
  redraw();
  try {
    await changeOwn(app.db, app.settings, session, view.old, view.next);
  } catch (error) {
    if (error instanceof Unreachable)
      complain(
        context,
        t`The server did not answer. It may have taken the new one all the same: at the next sign-in give the new one first, then the old.`,
      );
    else if (error instanceof Declined) complain(context, error.message);
    else throw error;
    return;
  } finally {
    view.busy = false;
  }
  say({ text: t`Changed. Sign-ins elsewhere have ended.`, shape: "saved" });
  replace("units");
}

/**
 * @param {Context} context
 * @param {string} words
 */
function complain({ view, redraw }, words) {
  Object.assign(view, { problem: words, old: "", next: "", again: "", busy: false });
  redraw();
}

/**
 * @param {string} by
 * @param {string} own
 */
function setter(by, own) {
  if (by === own) return t`by yourself`;
  return by === "SERVER" ? t`on the server's console` : t`by ${by}`;
}
