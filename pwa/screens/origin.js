/** Suspected origin: only what stands upstream of where it was found; "don't know" is a good answer. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { keepDraft, save, unitOf } from "../lib/state.js";
import { originsOf, typeOf } from "../lib/plant.js";
import { noUnit, toggled } from "./parts.js";

/** @import {Context, Screen} from "../lib/shapes" */

/** @type {Screen} */
export const originScreen = {
  path: "unit/:chassis/origin/:defect",
  page(context) {
    const { app, params, view } = context;
    const subject = subjectOf(context);
    const unit = unitOf(app, params.chassis);
    if (!subject || !unit || !app.plant) return noUnit(context);
    const origins = originsOf(app.plant, subject.point, unit.model, subject.type);
    const usual = typeOf(app.plant, subject.type)?.origins ?? [];
    const first = origins.filter((each) => usual.includes(each.id));
    const shown = view.all || !first.length ? origins : first;
    return {
      title: "Suspected origin",
      body: html`<p>${typeOf(app.plant, subject.type)?.name ?? ""}, found at ${subject.point}. A guess; its lead confirms or passes it on.</p>
        <div class="groups">${shown.map((each) => html`<button type="button" data-act="origin" data-value="${each.id}" aria-pressed="${each.id === subject.suspected ? "true" : "false"}">${each.id} ${each.name}</button>`)}
        ${shown.length < origins.length ? html`<button type="button" data-act="all">Other places upstream (${origins.length - shown.length})</button>` : ""}</div>`,
      actions: html`<button type="button" class="main" data-act="origin" data-value="UNK">Don't know</button><button type="button" data-act="leave">Back</button>`,
    };
  },
  acts: {
    all: toggled("all"),
    leave: ({ back }) => back(),
    origin: choose,
  },
};

/** @param {Context} context */
function subjectOf({ app, params }) {
  return app.drafts.find((each) => each.id === params.defect) ?? unitOf(app, params.chassis)?.defects.find((each) => each.id === params.defect);
}

/**
 * @param {Context} context
 * @param {HTMLElement} element
 */
async function choose({ app, params, back, sync, say }, element) {
  const station = element.dataset.value ?? "UNK";
  const draft = app.drafts.find((each) => each.id === params.defect);
  if (draft) {
    await keepDraft(app, { ...draft, suspected: station });
  } else {
    await save(app, [fact("origin_suspected", params.chassis, { defect: params.defect, station }, { deps: [params.defect] })]);
    sync("origin");
    say({ text: "Saved on phone: suspected origin", shape: "saved" });
  }
  back();
}
