/** Correct or withdraw a recorded defect: a later fact with its reason; the first one stays in the record. */

import { fact } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { openList } from "../lib/fold.js";
import { save, unitOf } from "../lib/state.js";
import { typeOf, typesOf, zoneWords, zonesOf } from "../lib/plant.js";
import { choices, chosen, noUnit, severityMark, typed, valueOf } from "./parts.js";

/** @import {Context, Fact, Screen} from "../lib/shapes" */

const REASONS = ["Wrong type picked", "Wrong zone picked", "Severity seen better", "Note completed"];
const WITHDRAW_REASONS = ["Within the limit sample", "Recorded by mistake", "Same thing is on the list"];

/** @type {Screen} */
export const correctScreen = {
  path: "unit/:chassis/correct/:defect",
  keeps: true,
  page(context) {
    const here = place(context);
    const { app, view, address, params, session } = context;
    if (!here || !app.plant) return noUnit(context);
    const { unit, defect } = here;
    const now = { zone: defect.zone, type: defect.type, severity: defect.severity, note: defect.note, ...view.changes };
    const manager = session?.person.role === "quality_manager";
    const severities = defect.severity === "critical" && !manager ? ["critical"] : ["critical", "major", "minor"];
    return {
      title: "Correct",
      body: html`<p class="value">${typeOf(app.plant, now.type)?.name ?? now.type}</p><p>${zoneWords(app.plant, unit.model, now.zone)}</p>
        <h2>Severity</h2>${choices("severity", "Severity", severities.map((each) => [each, severityMark(/** @type {any} */ (each))]), now.severity, 3)}
        ${severities.length === 1 ? html`<p class="hint">Only the quality manager lowers a critical.</p>` : ""}
        <label class="field" for="type">Type<select id="type" data-change="type">${typesOf(app.plant, unit.model).map((type) => html`<option value="${type.code}" ${type.code === now.type ? html`selected` : ""}>${type.name}</option>`)}</select></label>
        <label class="field" for="zone">Zone<select id="zone" data-change="zone">${zonesOf(app.plant, unit.model).map((zone) => html`<option value="${zone.key}" ${zone.key === now.zone ? html`selected` : ""}>${zone.view}: ${zone.name}</option>`)}</select></label>
        <label class="field" for="note">Note<textarea id="note" data-input="note" rows="2" maxlength="900">${now.note}</textarea></label>
        <h2>Why</h2>${choices("reason", "Why", REASONS.map((each) => [each, each]), view.reason ?? "")}
        <label class="field" for="why">Another reason<input id="why" data-input="other" maxlength="300" enterkeyhint="done" value="${REASONS.includes(view.reason) ? "" : view.reason ?? ""}"></label>`,
      actions: html`<button type="button" class="main" data-act="save">Save the correction</button>
        <a class="button" href="${address("unit", params.chassis, "defect", params.defect)}">Back</a>`,
    };
  },
  acts: {
    severity: (context, element) => set(context, "severity", element.dataset.value ?? ""),
    type: (context, element) => set(context, "type", valueOf(element)),
    zone: (context, element) => set(context, "zone", valueOf(element)),
    note({ view }, element) {
      view.changes = { ...view.changes, note: valueOf(element) };
    },
    reason: chosen("reason"),
    other: typed("reason"),
    async save(context) {
      const here = place(context);
      const { view, params, say } = context;
      if (!here) return;
      const changes = Object.fromEntries(Object.entries(view.changes ?? {}).filter(([name, value]) => value !== "" && value !== /** @type {any} */ (here.defect)[name]));
      if (!Object.keys(changes).length) return say({ text: "Nothing is changed yet." });
      if ((view.reason ?? "").length < 3) return say({ text: "Choose why: a correction keeps its reason." });
      await finish(context, fact("defect_corrected", params.chassis, { defect: params.defect, changes, reason: view.reason }, { deps: [params.defect] }), "correction");
    },
  },
};

/** @type {Screen} */
export const withdrawScreen = {
  path: "unit/:chassis/withdraw/:defect",
  keeps: true,
  page(context) {
    const here = place(context);
    const { app, view, address, params } = context;
    if (!here || !app.plant) return noUnit(context);
    const { unit, defect } = here;
    view.why ??= "not_a_defect";
    const others = openList(unit).filter((each) => each.id !== defect.id);
    return {
      title: "Withdraw",
      body: html`<p class="value">${typeOf(app.plant, defect.type)?.name ?? defect.type}</p><p>${zoneWords(app.plant, unit.model, defect.zone)}</p>
        <p>It leaves the open list; the record keeps it with your name and reason.</p>
        <h2>Why</h2>${choices("why", "Why", [["not_a_defect", "Not a defect"], ["duplicate", "Duplicate of another"]], view.why)}
        ${view.why === "duplicate" ? html`<h2>Of which</h2>${others.length ? choices("of", "Of which", others.map((each) => [each.id, `${typeOf(/** @type {any} */ (app.plant), each.type)?.name ?? each.type}, ${each.finder}`]), view.of ?? "") : html`<p>Nothing else is open on this unit.</p>`}` : ""}
        <h2>Reason</h2>${choices("reason", "Reason", WITHDRAW_REASONS.map((each) => [each, each]), view.reason ?? "")}
        <label class="field" for="other">Another reason<input id="other" data-input="other" maxlength="300" enterkeyhint="done" value="${WITHDRAW_REASONS.includes(view.reason) ? "" : view.reason ?? ""}"></label>`,
      actions: html`<button type="button" class="main" data-act="save">Withdraw it</button>
        <a class="button" href="${address("unit", params.chassis, "defect", params.defect)}">Back</a>`,
    };
  },
  acts: {
    why: chosen("why"),
    of: chosen("of"),
    reason: chosen("reason"),
    other: typed("reason"),
    async save(context) {
      const { view, params, say } = context;
      if (view.why === "duplicate" && !view.of) return say({ text: "Choose the defect that it doubles." });
      if ((view.reason ?? "").length < 3) return say({ text: "Choose a reason." });
      const body = { defect: params.defect, why: view.why, reason: view.reason, duplicate_of: view.why === "duplicate" ? view.of : "" };
      await finish(context, fact("defect_withdrawn", params.chassis, body, { deps: [params.defect] }), "withdrawn");
    },
  },
};

/** @param {Context} context */
function place({ app, params }) {
  const unit = unitOf(app, params.chassis);
  const defect = unit?.defects.find((each) => each.id === params.defect);
  return unit && defect ? { unit, defect } : null;
}

/**
 * @param {Context} context
 * @param {string} field
 * @param {string} value
 */
function set({ view, redraw }, field, value) {
  view.changes = { ...view.changes, [field]: value };
  redraw();
}

/**
 * @param {Context} context
 * @param {Fact} changed
 * @param {string} words
 */
async function finish({ app, params, sync, say, go }, changed, words) {
  await save(app, [changed]);
  sync(changed.kind);
  say({ text: `Saved on phone: ${words}`, shape: "saved" });
  go("unit", params.chassis);
}
