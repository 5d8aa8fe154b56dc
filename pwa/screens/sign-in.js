/** Who records: pick the name, give the PIN. */

import { Declined, Unreachable, askJson } from "../lib/api.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { asksPassphrase, rolesOf } from "../lib/roles.js";
import { opensOn } from "../lib/session.js";
import { languageFor } from "../lib/spoken.js";
import { serverNow, setSettings } from "../lib/state.js";
import { givenUntold, signIn, takeUp } from "../lib/signing-in.js";
import { ROLE, named } from "../lib/words.js";
import { TYPED } from "./enrol.js";
import { backspace, chooseLanguage, languageChoices } from "./parts.js";

/** @import {Context, Screen} from "../lib/shapes" */

const FEW = 8; // people that are shown without a fold

/** @type {Screen} */
export const signInScreen = {
  path: "sign-in",
  open: true,
  page(context) {
    const { view } = context;
    if (!view.asked) askPeople(context);
    return view.person ? pinPage(context) : peoplePage(context);
  },
  acts: {
    language: chooseLanguage,
    person({ view, app, redraw }, element) {
      view.person = app.settings.people.find((each) => each.code === element.dataset.value);
      view.pin = "";
      view.passphrase = asksPassphrase(view.person);
      redraw();
    },
    key({ view, redraw }, element) {
      const key = element.dataset.value ?? "";
      view.pin = key === "back" ? view.pin.slice(0, -1) : `${view.pin}${key}`.slice(0, 12);
      redraw();
    },
    typed({ view }, element) {
      view.pin = /** @type {HTMLInputElement} */ (element).value;
    },
    passphrase({ view, redraw }) {
      view.passphrase = true;
      redraw();
      document.getElementById("passphrase")?.focus();
    },
    others({ view, redraw }) {
      view.person = null;
      view.passphrase = false;
      view.problem = "";
      redraw();
    },
    enter,
  },
};

/**
 * Who signed in on this phone before, the last one first; then everybody by role, folded where there are many.
 * @param {Context} context
 */
function peoplePage({ app, view, address }) {
  const people = app.settings.people;
  const signedIn = app.settings.sessions.map((each) => each.person.code).reverse();
  const here = [...new Set([...app.settings.used_by, ...signedIn])]
    .map((code) => people.find((each) => each.code === code))
    .filter((each) => !!each);
  const others = people.filter((each) => !here.includes(each));
  const roles = [...new Set([...Object.keys(ROLE), ...others.map((each) => rolesOf(each)[0])])]
    .map((role) => others.filter((each) => rolesOf(each)[0] === role))
    .filter((each) => each.length);
  const folded = people.length > FEW;
  return {
    title: t`Who are you?`,
    body: html`${people.length ? "" : html`<p>${view.problem || t`Asking the server for the names.`}</p>`}
    ${
      here.length
        ? html`<h2>On this phone before</h2>
            ${personList(here)}`
        : ""
    }
    ${roles.map((each) => {
      const name = `${named(ROLE, rolesOf(each[0])[0])}: ${each.length}`;
      return folded
        ? html`<details class="more">
            <summary>${name}</summary>
            ${personList(each)}
          </details>`
        : html`<h2>${name}</h2>
            ${personList(each)}`;
    })}
    ${languageChoices(languageFor(app.settings))}`,
    actions: html`${
        app.settings.device_secret ? "" : html`<a class="button" href="${address("enrol", TYPED)}">Enrol this phone</a>`
      } <a class="button" href="${address("settings")}">Settings and install guide</a>`,
  };
}

/** @param {{code: string, name: string, role: string, also?: string[]}[]} people */
function personList(people) {
  return html`<ul class="list">
    ${people.map(
      (person) =>
        html`<li>
          <button type="button" class="row" data-act="person" data-value="${person.code}">
            <span class="row-title">${person.name} <span class="code">${person.code}</span></span>
            ${
              person.also?.length
                ? html`<span
                    >${rolesOf(person)
                      .map((role) => named(ROLE, role))
                      .join(", ")}</span
                  >`
                : ""
            }
          </button>
        </li>`,
    )}
  </ul>`;
}

/** @param {Context} context */
function pinPage({ view, address }) {
  const words = view.busy ? t`Asking` : t`Sign in`;
  return {
    title: t`PIN of ${view.person.name}`,
    body: html`${
      view.passphrase
        ? html`<label class="field" for="passphrase"
            >Passphrase
            <input
              id="passphrase"
              data-input="typed"
              type="password"
              autocomplete="off"
              enterkeyhint="go"
              maxlength="100"
          /></label>`
        : html`<p class="value">
            <span class="visually-hidden">${view.pin.length} figures given</span
            ><span aria-hidden="true">${"● ".repeat(view.pin.length) || "–"}</span>
          </p>`
    }
    ${view.problem ? html`<p class="warning">${view.problem}</p>` : ""}`,
    actions: html`${
        view.unknown ? html`<a class="button main" href="${address("enrol", TYPED)}">Enrol this phone</a>` : ""
      }${
        view.passphrase
          ? html`<button type="button" class="main" data-act="enter">${words}</button>`
          : html`<div class="keypad" role="group" aria-label="PIN">
              ${["1", "2", "3", "4", "5", "6", "7", "8", "9", "back", "0"].map(
                (key) =>
                  html`<button type="button" data-act="key" data-value="${key}">
                    ${key === "back" ? backspace() : key}
                  </button>`,
              )}<button type="button" class="main" data-act="enter">${words}</button>
            </div>`
      }
      <div class="pair">
        <button type="button" data-act="others">Somebody else</button
        >${view.passphrase ? "" : html`<button type="button" data-act="passphrase">Passphrase</button>`}
      </div>`,
  };
}

/** @param {Context} context */
async function askPeople({ app, view, redraw }) {
  view.asked = true;
  try {
    const { device, device_secret } = app.settings;
    const headers = { Authorization: `Basic ${btoa(`${device}:${device_secret ?? ""}`)}` };
    const people = await askJson("people", { headers });
    await setSettings(app, { people: Array.isArray(people) ? people : people.people });
  } catch (error) {
    if (!(error instanceof Declined || error instanceof Unreachable)) throw error;
    view.problem =
      error instanceof Declined
        ? error.message
        : t`The server cannot be reached. The first sign-in on this phone needs it.`;
  }
  if (!view.person) redraw();
}

/** @param {Context} context */
async function enter(context) {
  const { app, view, redraw, replace, sync } = context;
  if (view.busy) return;
  if (!view.pin) return complain(context, t`Give the PIN first.`);
  view.busy = true;
  view.problem = "";
  redraw();
  try {
    await signIn(app.db, app.settings, view.person.code, view.pin);
  } catch (error) {
    if (error instanceof Unreachable) await withoutServer(context);
    else if (error instanceof Declined) {
      view.unknown = error.code === "not_enrolled";
      complain(context, declinedWords(error));
    } else throw error;
  } finally {
    view.busy = false;
  }
  if (app.settings.person !== view.person.code) return redraw();
  sync("sign-in");
  const session = app.settings.sessions.find((each) => each.person.code === app.settings.person) ?? null;
  replace(givenUntold(app.settings, session).length ? "secret" : opensOn(session));
}

/** @param {Context} context */
async function withoutServer(context) {
  const { app, view } = context;
  const taken = await takeUp(app.db, app.settings, view.person.code, view.pin, serverNow(app));
  if (!taken) {
    complain(
      context,
      t`The server cannot be reached, and no sign-in of this person lasts on this phone, or the PIN is another. Walk to where there is signal.`,
    );
  }
}

/** @param {Declined} error */
function declinedWords(error) {
  if (error.code === "wrong_sign_in") return t`Name and PIN do not fit. Try again, or ask the administrator.`;
  if (error.code === "too_many_tries") return t`Too many tries. Wait, or ask the administrator.`;
  return error.message;
}

/**
 * @param {Context} context
 * @param {string} words
 */
function complain({ view, redraw }, words) {
  view.problem = words;
  view.pin = "";
  redraw();
}
