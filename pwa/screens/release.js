/** Prepare and sign a release: what blocks it, what is open, and a signature under exactly this list. */

import { Declined, Unreachable } from "../lib/api.js";
import { fact, sha256 } from "../lib/facts.js";
import { html } from "../lib/html.js";
import { openList } from "../lib/fold.js";
import { t, told } from "../lib/language.js";
import { asksPassphrase } from "../lib/roles.js";
import { sealFor } from "../lib/signing-in.js";
import { save, unitOf, unsentOf } from "../lib/state.js";
import { blockerRow, zonesMissing } from "./blockers.js";
import { defectRow, identity, noUnit, shape } from "./parts.js";

/** @import {Blocker, Context, Plant, Screen, UnitView} from "../lib/shapes" */

const FIRST_BLOCKERS = 6;

/** @type {Screen} */
export const releaseScreen = {
  path: "unit/:chassis/release",
  live: true,
  page(context) {
    const { app, params, address, view } = context;
    const unit = unitOf(app, params.chassis);
    if (!unit || !app.plant) return noUnit(context);
    const open = openList(unit);
    return {
      title: t`${unit.shop_number} release`,
      body: html`${identity(app, unit)}
        ${
          unit.release
            ? html`<p class="strong">Released by ${unit.release.signed_by}, against ${told(unit.release.against)}.</p>`
            : html`<p class="strong">Not released.</p>`
        }
        ${lastTry(context, unit)}
        <h2>What blocks it: ${unit.blockers.length}</h2>
        ${
          unit.blockers.length
            ? blockersList(context, unit)
            : html`<p>The server names nothing that blocks it, as of its record ${unit.last_number}.</p>`
        }
        <h2>Open list: ${open.length}</h2>
        ${
          open.length
            ? html`<ul class="list">
                ${open.map((defect) => defectRow(context, unit, defect))}
              </ul>`
            : html`<p>Nothing is open.</p>`
        }
        <p>
          You sign: released by you, against
          ${t`the release rule and checks of plant revision ${app.plant.revision.slice(0, 12)}`}. The server checks
          again when it takes the signature.
        </p>
        ${view.signing ? secretField(asksPassphrase(context.session?.person), view.pin ?? "") : ""}`,
      actions: html`${signing(context, unit)}<a class="button" href="${address("unit", unit.chassis)}"
          >Unit ${unit.shop_number}</a
        >`,
    };
  },
  acts: {
    begin({ view, redraw }) {
      view.signing = true;
      redraw();
      document.getElementById("pin")?.focus();
    },
    pin({ view }, element) {
      view.pin = /** @type {HTMLInputElement} */ (element).value;
    },
    sign,
  },
};

/**
 * Who signs with a passphrase needs letters: the figures' keyboard is for PINs only. What is typed so far outlives that
 * the server's news is drawn meanwhile.
 * @param {boolean} passphrase
 * @param {string} typed
 */
function secretField(passphrase, typed) {
  return html`<label class="field" for="pin"
    >${passphrase ? t`Your passphrase, to sign` : t`Your PIN, to sign`}
    <input
      id="pin"
      data-input="pin"
      type="password"
      inputmode="${passphrase ? "text" : "numeric"}"
      autocomplete="off"
      enterkeyhint="done"
      maxlength="100"
      value="${typed}"
  /></label>`;
}

/**
 * What blocks, each a way to the zone, test or defect that it speaks of.
 * @param {Context} context
 * @param {UnitView} unit
 */
function blockersList(context, unit) {
  const rows = (/** @type {Blocker[]} */ some) =>
    html`<ul class="list">
      ${some.map((each) => blockerRow(context, unit, each))}
    </ul>`;
  const rest = unit.blockers.slice(FIRST_BLOCKERS);
  const zones = zonesMissing(unit);
  return html`${
    zones.length > 1
      ? html`<a class="button" href="${context.address("unit", unit.chassis, "missing")}"
          >Walk only what is missing: ${zones.length} zones</a
        >`
      : ""
  }
  ${rows(unit.blockers.slice(0, FIRST_BLOCKERS))}${
    rest.length
      ? html`<details class="more">
          <summary>${rest.length} more</summary>
          ${rows(rest)}
        </details>`
      : ""
  }`;
}

/**
 * What the record says, in the one language that it is kept in.
 * @param {Plant} plant
 */
function against(plant) {
  return `the release rule and checks of plant revision ${plant.revision.slice(0, 12)}`;
}

/**
 * Why the unit cannot be signed here and now, or the button.
 * @param {Context} context
 * @param {UnitView} unit
 */
function signing({ app, view, may_record, may }, unit) {
  const unsentHere = unsentOf(app).records.filter((entry) => entry.unit === unit.chassis).length;
  if (unit.release) return "";
  if (may_record && !may("unit_released"))
    return html`<p class="strong">An inspector or the quality manager signs.</p>`;
  if (unit.blockers.length) return html`<p class="strong">Blocked: it cannot be signed.</p>`;
  if (unsentHere) return html`<p class="strong">${unsentHere} records of this unit are not sent yet. Sync first.</p>`;
  if (!app.sync.online || !may_record)
    return html`<p class="strong">Prepared. Signing needs the server: walk to where there is signal.</p>`;
  return view.signing
    ? html`<button type="button" class="main" data-act="sign">
        ${view.busy ? t`Signing` : t`Sign: release this unit`}
      </button>`
    : html`<button type="button" class="main" data-act="begin">I have read this list: sign</button>`;
}

/**
 * The last signature from this phone that the server did not take.
 * @param {Context} context
 * @param {UnitView} unit
 */
function lastTry({ app }, unit) {
  const entry = app.entries.findLast((each) => each.kind === "unit_released" && each.unit === unit.chassis);
  const verdict = entry && app.verdicts.get(entry.seq);
  if (!entry || unit.release || verdict?.verdict === "applied") return "";
  if (!verdict)
    return html`<p class="warning">${shape("saved")} Signed on this phone, not yet at the server: not released.</p>`;
  return html`<p class="warning">${shape("refused")} The last signature was not taken: ${told(verdict.reason)}</p>`;
}

/**
 * The digest of the open list on this screen: one line "<id> <state> <severity>" each, in the order of the ids.
 * @param {UnitView} unit
 */
function digestOf(unit) {
  const lines = openList(unit)
    .map((defect) => `${defect.id} ${defect.state} ${defect.severity}\n`)
    .sort();
  return sha256(new TextEncoder().encode(lines.join("")).buffer);
}

/** @param {Context} context */
async function sign(context) {
  const { app, params, view, session, redraw, say, sync } = context;
  const unit = unitOf(app, params.chassis);
  if (!unit || !app.plant || !session || view.busy) return;
  if (!view.pin) return say({ text: t`Give your PIN or passphrase to sign.` });
  const digest = await digestOf(unit);
  view.busy = true;
  redraw();
  try {
    // A signature asks who signs again, and the server checks it now: its yes is for this one record.
    const release = fact("unit_released", unit.chassis, { open_digest: digest, against: against(app.plant) });
    const seal = await sealFor(app.settings, session, view.pin, release.id);
    await save(app, [release], { seal });
    say({ text: t`Signed. The server decides when it takes the signature.`, shape: "saved" });
    sync("release");
  } catch (error) {
    if (!(error instanceof Declined || error instanceof Unreachable)) throw error;
    say({
      text: error instanceof Declined ? t`Not signed: ${error.message}` : t`Not signed: the server cannot be reached.`,
      shape: "not_saved",
    });
  } finally {
    Object.assign(view, { busy: false, signing: false, pin: "" });
  }
  redraw();
}
