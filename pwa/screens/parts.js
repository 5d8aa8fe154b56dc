/** Pieces that several screens show: shapes that go with words, the unit's read-back, cautions, big choices. */

import { ago } from "../lib/clock.js";
import { html } from "../lib/html.js";
import { LANGUAGES, inWords, listOf, t, told } from "../lib/language.js";
import { cautionOf, cautionsAt, lineName, optionNames, placeWords, toldOf, zoneWords } from "../lib/plant.js";
import { withShownNames } from "../lib/plant-names.js";
import { refusedOf, setSettings } from "../lib/state.js";
import { SEVERITY, named, within } from "../lib/words.js";

/** @import {Act, App, Context, Defect, Page, Plant, Severity, Shape, UnitView} from "../lib/shapes" */

/** @typedef {import("../lib/html.js").Markup} Markup */

export const SHAPES = {
  critical: html`<path d="M12 2 23 22H1z" />`,
  major: html`<path d="M3 3h18v18H3z" />`,
  minor: html`<circle cx="12" cy="12" r="9" />`,
  saved: html`<path fill-rule="evenodd" d="M5 1h14v22H5zm3 4v11h8V5zm2.500 14v2h3v-2z" />`,
  sent: html`<path
    fill-rule="evenodd"
    d="M12 1a11 11 0 1 0 0 22 11 11 0 0 0 0-22zM5.500 12.500l2-2 3 3 6-6.500 2 2-8 8.500z"
  />`,
  refused: html`<path
    fill-rule="evenodd"
    d="M7.500 1h9L23 7.500v9L16.500 23h-9L1 16.500v-9zM8 6 6 8l4 4-4 4 2 2 4-4 4 4 2-2-4-4 4-4-2-2-4 4z"
  />`,
  not_saved: html`<path fill-rule="evenodd" d="M12 1 24 23H0zm-1.500 7v7h3V8zm0 9v3h3v-3z" />`,
  looked: html`<path d="M2 12.500 5 9.500l5 5L19 4.500l3 3L10 20.500z" />`,
  not: html`<path d="M2 9.500h20v5H2z" />`,
  none: html`<path fill-rule="evenodd" d="M3 3h18v18H3zm2.500 2.500v13h13v-13z" />`,
  next: html`<path d="M3 2 22 12 3 22z" />`,
  often: html`<path
    fill-rule="evenodd"
    d="M0 12C4 5 8 3 12 3s8 2 12 9c-4 7-8 9-12 9S4 19 0 12zm12 5.500a5.500 5.500 0 1 0 0-11 5.500 5.500 0 0 0 0 11zm0-3a2.500 2.500 0 1 1 0-5 2.500 2.500 0 0 1 0 5z"
  />`,
};

/** On a keypad: take the last figure away. */
export const backspace = () =>
  html`<span aria-hidden="true">⌫</span><span class="visually-hidden">Delete the last one</span>`;

/**
 * @param {Shape} name
 * @param {string} [kind]
 */
export function shape(name, kind = "shape") {
  return html`<svg class="${kind}" viewBox="0 0 24 24" aria-hidden="true">${SHAPES[name]}</svg>`;
}

/**
 * How grave, as a word with a shape: in the plant's own word where it has one.
 * @param {Severity} severity
 * @param {Plant | null} [plant]
 * @param {string} [grade]
 */
export function severityMark(severity, plant, grade) {
  const own = plant?.severities?.find((each) => each.code === grade);
  const word = own?.name ?? named(SEVERITY, severity);
  return html`<span class="severity" data-severity="${severity}">${shape(severity)} ${word}</span>`;
}

/**
 * Where a record stands, as a word with a shape.
 * @param {"saved" | "sent" | "refused" | "not_saved"} state
 */
export function syncMark(state) {
  const words = { saved: t`Saved on phone`, sent: t`Sent`, refused: t`Refused, see why`, not_saved: t`Not saved` };
  return html`<span class="sync" data-sync="${state}">${shape(state)} ${words[state]}</span>`;
}

/**
 * The identity of a unit, large, for reading against the metal.
 * @param {App} app
 * @param {UnitView} unit
 */
export function identity(app, unit) {
  const model = app.plant?.models.find((each) => each.code === unit.model);
  return html`<div class="identity">
    <p class="shop-number">${unit.shop_number}</p>
    <p class="chassis">Chassis ${unit.chassis}</p>
    <p>${model?.name ?? unit.model} · ${model?.what ?? ""}</p>
    ${unit.unplanned ? html`<p class="strong">${shape("not_saved")} Not planned: no release before a plan</p>` : ""}
    ${lineWords(app, unit)}
    <p>${unit.options.length ? t`Options: ${optionNames(app.plant, unit)}` : t`No options`}</p>
  </div>`;
}

/**
 * On which of several lines the unit is built; nothing where the plant has one.
 * @param {App} app
 * @param {UnitView} unit
 */
function lineWords(app, unit) {
  const name = lineName(app.plant, unit);
  const lines = app.plant?.models.find((each) => each.code === unit.model)?.lines ?? [];
  if (!name) return "";
  const isTold = lines.length < 2 || lines.includes(unit.line ?? "");
  return html`<p>${isTold ? t`Line: ${name}` : t`Line not told: taken for ${name} until a plan says it`}</p>`;
}

/**
 * Why a unit is not built on, as the server says it; nothing where it is.
 * @param {UnitView} unit
 */
export function cancelledWarning(unit) {
  const why = unit.blockers.find((each) => each.code === "cancelled");
  if (unit.state !== "cancelled") return "";
  return html`<p class="warning">
    ${shape("refused")} Cancelled. ${told(why?.what ?? "")} What you record stays with it.
  </p>`;
}

const GENERAL = inWords({
  short: "The plant's tables do not say what can hurt here. Take care as for the worst; ask before you touch it.",
  more: "Gas, mains, weight, height, pressure and heat can each be there unseen.",
});

/**
 * A caution: in full the first time in a sign-in and where `always`, afterwards folded under its name. Null, and a code
 * that the plant's tables lack, are the general caution: never none.
 * @param {Context} context
 * @param {string | null} named
 * @param {{always?: boolean}} [how]
 */
export function caution(context, named, how = {}) {
  const plant = context.app.plant;
  if (!plant) return html``;
  const { code, short, more } = cautionOf(plant, named) ?? {
    code: "general",
    short: t(GENERAL.short),
    more: t(GENERAL.more),
  };
  const told = html`<p class="short">${short}</p>
    <p>${plant.standing_line}</p>`;
  const first = short.split(/[.:]/)[0];
  if (how.always || !context.sees(code)) {
    return html`<section class="caution" aria-label="Caution: ${first}">
      ${told}
      <details>
        <summary>More</summary>
        <p>${more}</p>
      </details>
    </section>`;
  }
  return html`<details class="caution">
    <summary>Caution: ${first}</summary>
    ${told}
    <p>${more}</p>
  </details>`;
}

/**
 * The cautions that the plant shows at a place of the app.
 * @param {Context} context
 * @param {"begin" | "unit"} place
 */
export function cautionsShown(context, place) {
  return context.app.plant ? cautionsAt(context.app.plant, place).map((code) => caution(context, code)) : "";
}

/**
 * Why a unit stands under alarm, with the names that the reader knows.
 * @param {Plant | null} plant
 * @param {UnitView} unit
 */
export function alarmWords(plant, { alarm }) {
  return told(plant ? withShownNames(plant, alarm) : alarm);
}

/**
 * Buttons that call who is told of a critical finding; without a number, where to go.
 * @param {Plant} plant
 * @param {(string | null)[]} codes  cautions
 */
export function callButtons(plant, codes) {
  return toldOf(plant, codes).map(({ who, phone }) =>
    phone
      ? html`<a class="button main stop" href="tel:${phone}">Call ${who}: ${phone}</a>`
      : html`<p class="strong">The plant has named no number to call: go to ${who}.</p>`,
  );
}

/**
 * Who is told, in words: "the lead".
 * @param {Plant} plant
 * @param {(string | null)[]} codes
 */
export function toldWords(plant, codes) {
  return listOf(toldOf(plant, codes).map(({ who }) => who));
}

/**
 * A row of big choices, one of which is pressed.
 * @param {string} act
 * @param {string} label
 * @param {[string, string | Markup][]} choices  code and words
 * @param {string} chosen
 * @param {2 | 3 | 4} [columns]
 */
export function choices(act, label, choices, chosen, columns = 2) {
  return html`<div class="choices" data-columns="${columns}" role="group" aria-label="${label}">
    ${choices.map(
      ([code, words]) =>
        html`<button
          type="button"
          data-act="${act}"
          data-value="${code}"
          aria-pressed="${code === chosen ? "true" : "false"}"
        >
          ${words}
        </button>`,
    )}
  </div>`;
}

/**
 * The languages of the app, each by its own name.
 * @param {string} spoken  tag
 */
export function languageChoices(spoken) {
  const named = Object.entries(LANGUAGES).map(
    ([tag, name]) => /** @type {[string, Markup]} */ ([tag, html`<span lang="${tag}">${name}</span>`]),
  );
  return choices("language", t`Language`, named, spoken);
}

/**
 * The language of who is signed in, which goes with them to other phones; of nobody, this phone's.
 * @param {Context} context
 * @param {HTMLElement} element
 */
export async function chooseLanguage({ app, session, sync, redraw }, element) {
  const tag = element.dataset.value ?? "";
  const own = session && { ...app.settings.languages, [session.person.code]: { tag, told: false } };
  await setSettings(app, own ? { languages: own } : { language: tag });
  redraw();
  if (own) sync("language");
}

/**
 * Reasons to choose from, and a field for another one.
 * @param {string} act
 * @param {string} input  what typing in the field does, and its id
 * @param {string} label
 * @param {string[]} known
 * @param {string} given  "" for none yet
 * @param {string} [another]  what the field is called
 * @param {number} [most]  characters
 */
export function reasonChoices(act, input, label, known, given, another = t`Another reason`, most = 300) {
  return html`${choices(
      act,
      label,
      known.map((each) => [each, each]),
      given,
    )}
    <label class="field" for="${input}"
      >${another}<input
        id="${input}"
        data-input="${input}"
        maxlength="${most}"
        enterkeyhint="done"
        value="${known.includes(given) ? "" : given}"
    /></label>`;
}

/**
 * A defect as one row that opens it.
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Defect} defect
 */
export function defectRow(context, unit, defect) {
  const plant = context.app.plant;
  const refused = refusedOf(context.app).some(
    ({ entry }) => entry.op.body.defect === defect.id || entry.op.body.defects?.includes(defect.id),
  );
  const type = plant?.types.find((each) => each.code === defect.type);
  return html`<li>
    <a class="row" href="${context.address("unit", unit.chassis, "defect", defect.id)}">
      <span class="row-title"
        >${severityMark(defect.severity, context.app.plant, defect.grade)} ${type?.name ?? defect.type}</span
      >
      <span>${plant ? zoneWords(plant, unit.model, defect.zone) : defect.zone}</span>
      <span
        >${t`${defect.finder} at ${placeWords(plant, defect.point)}, ${ago(context.now() - defect.found_ms)}`}${
          defect.state === "repaired" ? t` · repaired, wants re-check` : defect.cycles ? t` · failed re-check` : ""
        }</span
      >
      ${refused ? syncMark("refused") : defect.local ? syncMark(defect.local) : ""}
    </a>
  </li>`;
}

/**
 * What the last re-check found wrong, for who repairs; what the last repair did, for who looks again.
 * @param {Defect} defect
 */
export function said(defect) {
  if (!defect.said || !["open", "repaired"].includes(defect.state)) return "";
  return html`<p class="value said">
    ${defect.state === "open" ? t`Still wrong: ${defect.said}` : t`Done: ${defect.said}`}
  </p>`;
}

/**
 * Open defects by severity, figures with shapes.
 * @param {Defect[]} defects
 */
export function counts(defects) {
  const of = (/** @type {string} */ severity) => defects.filter((defect) => defect.severity === severity).length;
  return html`<span class="counts"
    >${
      /** @type {const} */ (["critical", "major", "minor"])
        .filter(of)
        .map(
          (severity) =>
            html`<span class="count" data-severity="${severity}"
              >${shape(severity)} ${of(severity)} ${within(named(SEVERITY, severity))}</span
            > `,
        )
    }</span
  >`;
}

/**
 * What a screen shows when what its address names is not here: the unit, or something of a unit that is.
 * @param {Context} context
 * @param {string} [what]  in words, for a unit that the phone holds
 * @returns {Page}
 */
export function gone(
  context,
  what = t`It is not on this unit as the phone knows it. It may be saved, dropped or withdrawn since.`,
) {
  const { app, params, address, may } = context;
  const unit = app.units.get(params.chassis);
  if (!unit) return noUnit(context);
  return {
    title: t`Unit ${unit.shop_number}`,
    body: html`<p class="value">${what}</p>
      <p>What you saved is kept.</p>`,
    actions: html`<a class="button main" href="${address("unit", unit.chassis)}">Unit ${unit.shop_number}</a> ${
        may("inspection_begun")
          ? html`<a class="button" href="${address("unit", unit.chassis, "begin")}">Start inspection</a>`
          : ""
      }`,
  };
}

/**
 * @param {Context} context
 * @returns {Page}
 */
export function noUnit(context) {
  const { app, params, address } = context;
  if (app.units.has(params.chassis)) return gone(context);
  return {
    title: t`Unit not on this phone`,
    body: html`<p>
      ${params.chassis ?? ""} is not on this phone. Sync where there is signal; until then write on the paper sheet.
    </p>`,
    actions: html`<a class="button main" href="${address("find")}">Find a unit</a
      ><a class="button" href="${address("units")}">Units in work</a>`,
  };
}

// ---- acts that only keep what was chosen or typed in the screen's passing state

/** @param {HTMLElement} element */
export function valueOf(element) {
  return /** @type {HTMLInputElement} */ (element).value.trim();
}

/**
 * A pressed choice; drawn at once.
 * @param {string} field
 * @returns {Act}
 */
export function chosen(field) {
  return ({ view, redraw }, element) => {
    view[field] = element.dataset.value;
    redraw();
  };
}

/**
 * Typed text; not drawn anew, which would take the next button away from under the thumb.
 * @param {string} field
 * @returns {Act}
 */
export function typed(field) {
  return ({ view }, element) => {
    view[field] = valueOf(element);
  };
}

/**
 * A part that opens and closes.
 * @param {string} field
 * @returns {Act}
 */
export function toggled(field) {
  return ({ view, redraw }) => {
    view[field] = !view[field];
    redraw();
  };
}

/**
 * Where the lot of a bought part is typed.
 * @param {string} lot
 */
export function lotField(lot) {
  return html`<label class="field" for="lot"
    >Lot of the part, as on its label<input
      id="lot"
      data-input="lot"
      value="${lot}"
      maxlength="40"
      autocomplete="off"
      autocapitalize="characters"
      spellcheck="false"
  /></label>`;
}
