/** Marking zones as looked at: kept at once, never twice, and taken back by a later fact. */

import { fact } from "../lib/facts.js";
import { t } from "../lib/language.js";
import { save } from "../lib/state.js";

const MOST_ZONES = 100; // that the record takes in one fact

/** @import {Context, Inspection, UnitView, Zone} from "../lib/shapes" */

/**
 * Mark zones; those that are marked already are passed over.
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Inspection} inspection
 * @param {Zone[]} zones
 */
export async function markLooked(context, unit, inspection, zones) {
  const { app, say, sync } = context;
  const rest = zones.filter((zone) => !inspection.looked.includes(zone.key));
  if (!rest.length) return;
  const keys = rest.map((zone) => zone.key);
  await save(
    app,
    looksAt(keys).map((zones) =>
      fact("zone_looked_at", unit.chassis, { inspection: inspection.id, zones }, { deps: [inspection.id] }),
    ),
  );
  sync("looked at");
  say({
    text:
      rest.length === 1
        ? t`Saved on phone: ${rest[0].name} looked at`
        : t`Saved on phone: ${rest.length} zones looked at`,
    shape: "saved",
    buttons: [{ label: t`Undo`, run: (now) => unmark(now, unit, inspection, keys) }],
  });
}

/**
 * Zones in as many facts as the record takes them in, none left out.
 * @param {string[]} keys
 */
export function looksAt(keys) {
  return Array.from({ length: Math.ceil(keys.length / MOST_ZONES) }, (_, place) =>
    keys.slice(place * MOST_ZONES, (place + 1) * MOST_ZONES),
  );
}

/**
 * A wrong tap is taken back by a later fact: those zones were not looked at.
 * @param {Context} context
 * @param {UnitView} unit
 * @param {Inspection} inspection
 * @param {string[]} zones
 */
async function unmark({ app, say, sync, redraw }, unit, inspection, zones) {
  const body = { inspection: inspection.id, reason: "other", note: t`Marked looked at by mistake` };
  await save(
    app,
    zones.map((zone) => fact("zone_not_looked_at", unit.chassis, { ...body, zone }, { deps: [inspection.id] })),
  );
  sync("undo");
  say({ text: t`Saved on phone: marked as not looked at. Look, then mark again.`, shape: "not" });
  redraw();
}
