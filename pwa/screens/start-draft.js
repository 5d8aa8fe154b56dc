/** Begin a defect: the draft is on the disk before anything else happens, the camera least of all. */

import { inspectionInHand } from "../lib/fold.js";
import { keepDraft, unitOf } from "../lib/state.js";
import { typeOf } from "../lib/plant.js";
import { uuid7 } from "../lib/uuid7.js";

/** @import {Context, Draft} from "../lib/shapes" */

/**
 * @param {Context} context
 * @param {string} zone
 * @param {string} typeCode
 * @param {Partial<Draft>} [more]
 */
export async function startDraft(context, zone, typeCode, more = {}) {
  const { app, params, session, go, may_record, say, now } = context;
  const unit = unitOf(app, params.chassis);
  const type = app.plant && typeOf(app.plant, typeCode);
  if (!unit || !type || !session) return;
  if (!may_record) return say({ text: "Read only. See Settings, install guide." });
  const inspection = inspectionInHand(unit, session.person.code);
  /** @type {Draft} */
  const draft = {
    id: uuid7(), unit: unit.chassis, point: inspection?.point ?? "D01", inspection: inspection?.id ?? null, zone, type: type.code,
    severity: type.severity, severity_reason: "", note: "", suspected: "", mark: app.touched?.zone === zone ? app.touched.mark : null, not_on_list: false, photo_problem: "",
    person: session.person.code, begun_ms: now(), replaces: null, ...more,
  };
  await keepDraft(app, draft);
  go("unit", unit.chassis, "draft", draft.id);
}
