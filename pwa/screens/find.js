/** Find the unit: scan, or the last five or six characters read off the metal; then a yes to model and options. */

import { endingWith, labelRead, nearest, readTyped } from "../lib/chassis.js";
import { html } from "../lib/html.js";
import { inHandBy } from "../lib/fold.js";
import { counted, t } from "../lib/language.js";
import { unitsShown } from "../lib/state.js";
import { UNIT_STATE, named } from "../lib/words.js";
import { backspace, cancelledWarning, identity } from "./parts.js";

/** @import {Context, Page, Screen, UnitView} from "../lib/shapes" */

const FIND = 5; // last characters that people speak, where an older server does not say
const MOST = 5;
const FEW_LETTERS = 6; // as many as have room as keys

/** @type {Screen} */
export const findScreen = {
  path: "find",
  page(context) {
    const { app, view, address } = context;
    const ends = app.plant?.numbers?.ends ?? "";
    view.typed ??= "";
    if (view.shown) return resultsPage(context);
    return {
      title: t`Find a unit`,
      body: html`<label class="field" for="number"
          >Last ${find(context)} or ${find(context) + 1} characters, read off the metal
          <input
            id="number"
            data-input="typed"
            value="${view.typed}"
            inputmode="${view.letters || ends.length > FEW_LETTERS ? "text" : "none"}"
            autocomplete="off"
            autocapitalize="characters"
            spellcheck="false"
            enterkeyhint="search"
            maxlength="30"
          />
        </label>
        ${hint(context)}
        ${
          "BarcodeDetector" in window
            ? ""
            : html`<p>This browser reads no labels. Type the last characters, off the metal.</p>`
        }`,
      actions: html`<div class="keypad" role="group" aria-label="Figures">
          ${["1", "2", "3", "4", "5", "6", "7", "8", "9", "back", "0"].map(
            (key) =>
              html`<button type="button" data-act="key" data-value="${key}">
                ${key === "back" ? backspace() : key}
              </button>`,
          )}<button type="button" class="main" data-act="show">Find</button>
        </div>
        ${
          ends && ends.length <= FEW_LETTERS
            ? html`<div class="pair" role="group" aria-label="Letters that end a number">
                ${[...ends].map(
                  (key) => html`<button type="button" data-act="key" data-value="${key}">${key}</button>`,
                )}
              </div>`
            : ""
        }
        <div class="pair">
          <button type="button" data-act="letters">Letters</button>
          ${
            "BarcodeDetector" in window
              ? html`<label class="button"
                  >Scan<input
                    class="visually-hidden"
                    type="file"
                    accept="image/*"
                    capture="environment"
                    data-file="scan"
                /></label>`
              : ""
          }
          <a class="button" href="${address("units")}">Back</a>
        </div>`,
    };
  },
  acts: {
    key(context, element) {
      const { view, redraw } = context;
      const key = element.dataset.value ?? "";
      view.typed = key === "back" ? view.typed.slice(0, -1) : view.typed + key;
      view.shown = isFound(context);
      redraw();
    },
    show(context) {
      const { app, view, say, redraw } = context;
      if (readTyped(view.typed, app.plant?.numbers).text.length < least(context))
        return say({ text: t`Give at least ${least(context)} characters.` });
      view.shown = true;
      return redraw();
    },
    other({ view, redraw }) {
      view.shown = false;
      view.typed = "";
      redraw();
    },
    typed({ view, redraw }, element) {
      view.typed = /** @type {HTMLInputElement} */ (element).value;
      redraw();
    },
    letters({ view, redraw }) {
      view.letters = true;
      redraw();
      document.getElementById("number")?.focus();
    },
    scan,
  },
};

/**
 * How many last characters people of this plant find a unit by.
 * @param {Context} context
 */
function find({ app }) {
  return app.plant?.numbers?.find ?? FIND;
}

/** @param {Context} context */
function least(context) {
  return Math.min(4, find(context));
}

/**
 * So many characters that fit few units need no further tap.
 * @param {Context} context
 */
function isFound(context) {
  const { app, view } = context;
  const { text } = readTyped(view.typed, app.plant?.numbers);
  const hits = endingWith([...app.units.values()], text).length;
  return text.length >= find(context) && hits > 0 && hits <= MOST;
}

/** @param {Context} context */
function hint(context) {
  const { app, view } = context;
  const { text, changed } = readTyped(view.typed, app.plant?.numbers);
  const count = endingWith([...app.units.values()], text).length;
  return html`${changed.length ? html`<p>${explained(changed)}</p>` : ""}${view.scanned ?? ""}
  ${text.length < least(context) ? "" : html`<p class="strong">${counted(count, "1 unit ends so.", "{0} units end so.")}</p>`}`;
}

/** @param {string[]} changed */
function explained(changed) {
  return t`Chassis numbers never hold I, O or Q: ${changed.map((sign) => t`${sign} read as ${sign === "I" ? "1" : "0"}`).join(", ")}.`;
}

/**
 * @param {Context} context
 * @returns {Page}
 */
function resultsPage(context) {
  const { app, view, address, may } = context;
  const { text, changed } = readTyped(view.typed, app.plant?.numbers);
  const units = unitsShown(app);
  const hits = endingWith(units, text).slice(0, MOST);
  const near = hits.length ? [] : nearest(units, text);
  return {
    title: t`Ends with ${text}`,
    body: html`${changed.length ? html`<p>${explained(changed)}</p>` : ""}
    ${
      hits.length
        ? ""
        : html`<p class="strong">No unit on this phone ends with ${text}.</p>
            ${
              near.length
                ? html`<p>Nearest known. Read the metal again before you take one:</p>`
                : html`<p>Sync where there is signal. Until then write on the paper sheet.</p>`
            }`
    }
    ${[...hits, ...near].map((unit) => candidate(context, unit))}`,
    actions: html`${
        !hits.length && may("unit_met")
          ? html`<a class="button" href="${address("met", text)}">Begin it: not planned here</a>`
          : ""
      }<button type="button" data-act="other">Another number</button
      ><a class="button" href="${address("units")}">Units in work</a>`,
  };
}

/**
 * @param {Context} context
 * @param {UnitView} unit
 */
function candidate({ app, address, session }, unit) {
  const others = inHandBy(unit).filter((person) => person !== session?.person.code);
  return html`<section class="card" aria-label="Unit ${unit.shop_number}">
    ${identity(app, unit)}
    <p class="strong">${named(UNIT_STATE, unit.state)}</p>
    ${cancelledWarning(unit)}
    ${
      unit.release
        ? html`<p class="warning">Released by ${unit.release.signed_by}. What you record now raises an alarm.</p>`
        : ""
    }
    ${
      others.length
        ? html`<p class="warning">In hand by ${others.join(", ")}. Both may work; look at the open list first.</p>`
        : ""
    }
    <a class="button main" href="${address("unit", unit.chassis)}">Yes, this unit</a>
  </section>`;
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function scan({ app, view, redraw }, element) {
  const file = /** @type {HTMLInputElement} */ (element).files?.[0];
  if (!file) return;
  const { number, words } = labelRead([...app.units.values()], await codesIn(file));
  view.typed = number || view.typed;
  view.shown = number !== "";
  view.scanned = words ? html`<p class="warning">${words}</p>` : "";
  redraw();
}

/**
 * The codes in a picture; none where it is no picture, or the browser's reader fails on it.
 * @param {File} file
 * @returns {Promise<string[]>}
 */
export async function codesIn(file) {
  const Detector = /** @type {any} */ (window).BarcodeDetector;
  try {
    const codes = await new Detector().detect(await createImageBitmap(file));
    return codes.map((/** @type {{rawValue: unknown}} */ each) => String(each.rawValue));
  } catch {
    return [];
  }
}
