/** A unit that no plan on this phone holds: begun by its whole chassis number and its model, marked until the plan comes. */

import { numbersOf, readTyped } from "../lib/chassis.js";
import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { save } from "../lib/state.js";
import { choices, chosen, shape, valueOf } from "./parts.js";

/** @import {Context, Screen} from "../lib/shapes" */

const LENGTH = 17;

/** @type {Screen} */
export const metScreen = {
  path: "met/:typed",
  keeps: true,
  page(context) {
    const { app, params, view, address, may } = context;
    view.number ??= readTyped(params.typed).text.length === LENGTH ? readTyped(params.typed).text : "";
    return {
      title: "Not planned here",
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
            maxlength="24"
        /></label>
        <h2>Model</h2>
        ${choices(
          "model",
          "Model",
          (app.plant?.models ?? []).map(({ code, name }) => [code, name]),
          view.model ?? "",
        )}`,
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
    begin,
  },
};

/** @param {Context} context */
async function begin({ app, view, say, sync, replace }) {
  const { text } = readTyped(view.number ?? "");
  const model = app.plant?.models.find((each) => each.code === view.model);
  if (text.length !== LENGTH)
    return say({ text: `A chassis number has ${LENGTH} characters, this has ${text.length}. Read the metal again.` });
  if (!app.units.has(text)) {
    if (!model) return say({ text: "Choose the model: what is looked at follows from it." });
    if (!numbersOf(text, model))
      return say({ text: `${text} is no number of a ${model.name}. Read the metal again, or choose another model.` });
    await save(app, [fact("unit_met", text, { model: model.code })]);
    sync("unit_met");
    say({ text: "Saved on phone: the unit is begun, not planned yet", shape: "saved" });
  }
  return replace("unit", text);
}
