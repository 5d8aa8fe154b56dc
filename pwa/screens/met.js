/** A unit that no plan on this phone holds: begun by its whole chassis number and its model, marked until the plan comes. */

import { lengthOf, numbersOf, readTyped } from "../lib/chassis.js";
import { checks } from "../lib/check-signs.js";
import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { language, t } from "../lib/language.js";
import { save } from "../lib/state.js";
import { choices, chosen, shape, valueOf } from "./parts.js";

/** @import {Context, Screen} from "../lib/shapes" */

/** @type {Screen} */
export const metScreen = {
  path: "met/:typed",
  keeps: true,
  page(context) {
    const { app, params, view, address, may } = context;
    const { text } = readTyped(params.typed, app.plant?.numbers);
    view.number ??= lengths(context).includes(text.length) ? text : "";
    return {
      title: t`Not planned here`,
      body: html`<p class="warning">
          ${shape("not_saved")} Sync first where there is signal: it may be planned. It is marked as not planned, and
          nobody releases it, until a planner plans it.
        </p>
        <label class="field" for="number"
          >The whole chassis number, read off the metal<input
            id="number"
            data-input="number"
            value="${view.number}"
            autocomplete="off"
            autocapitalize="characters"
            spellcheck="false"
            enterkeyhint="done"
            maxlength="32"
        /></label>
        <h2>Model</h2>
        ${choices(
          "model",
          t`Model`,
          (app.plant?.models ?? []).map(({ code, name }) => [code, name]),
          view.model ?? "",
        )}
        ${lines(context).length > 1 ? lineChoice(context) : ""}`,
      actions: html`${
          may("unit_met")
            ? html`<button type="button" class="main" data-act="begin">Begin this unit</button>`
            : html`<p class="strong">Your role reads here and begins no unit.</p>`
        } <a class="button" href="${address("find")}">Find a unit</a>`,
    };
  },
  acts: {
    number({ view }, element) {
      view.number = valueOf(element);
    },
    model: chosen("model"),
    line: chosen("line"),
    begin,
  },
};

/**
 * The lines on which a unit of the chosen model may be built; of a single one nothing is asked.
 * @param {Context} context
 */
function lines({ app, view }) {
  const own = app.plant?.models.find((each) => each.code === view.model)?.lines ?? [];
  return (app.plant?.lines ?? []).filter(({ code, ended }) => own.includes(code) && !ended);
}

/** @param {Context} context */
function lineChoice(context) {
  const offered = lines(context).map(({ code, name }) => /** @type {[string, string]} */ ([code, name]));
  return html`<h2>Line</h2>
    ${choices("line", t`Line`, offered, context.view.line ?? "")}`;
}

/**
 * How long whole numbers of the plant's models are, each length once.
 * @param {Context} context
 */
function lengths({ app }) {
  const all = (app.plant?.models ?? []).map(({ code }) => lengthOf(code, app.plant?.numbers));
  return [...new Set(all)].sort((a, b) => a - b);
}

/** @param {Context} context */
async function begin(context) {
  const { app, view, say, sync, replace } = context;
  const numbers = app.plant?.numbers;
  const { text } = readTyped(view.number ?? "", numbers);
  const model = app.plant?.models.find((each) => each.code === view.model);
  const long = lengths(context);
  if (!long.includes(text.length)) {
    const own = new Intl.ListFormat(language(), { type: "disjunction" }).format(long.map(String));
    return say({ text: t`A chassis number has ${own} characters, this has ${text.length}. Read the metal again.` });
  }
  if (!app.units.has(text)) {
    if (!model) return say({ text: t`Choose the model: what is looked at follows from it.` });
    if (!numbersOf(text, model, numbers))
      return say({ text: t`${text} is no number of a ${model.name}. Read the metal again, or choose another model.` });
    if (!checks(text, model.code, numbers))
      return say({ text: t`${text} does not check: a sign of it is wrong. Read the metal again.` });
    const offered = lines(context).map(({ code }) => code);
    const line = offered.length > 1 ? offered.find((each) => each === view.line) : offered[0];
    if (offered.length && !line) return say({ text: t`Choose the line: which stations it passes follows from it.` });
    await save(app, [fact("unit_met", text, { model: model.code, ...(line ? { line } : {}) })]);
    sync("unit_met");
    say({ text: t`Saved on phone: the unit is begun, not planned yet`, shape: "saved" });
  }
  return replace("unit", text);
}
