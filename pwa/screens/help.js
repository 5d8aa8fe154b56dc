/** Help without signal: whom to call, the plant's cautions in full, what each sign means, how a walk goes, the day of a role. */

import { DAYS, WITHOUT_SERVER } from "../lib/days.js";
import { html } from "../lib/html.js";
import { inWords, t } from "../lib/language.js";
import { shape } from "./parts.js";

/** @import {Plant, Screen} from "../lib/shapes" */

const SIGNS = /** @type {[import("../lib/shapes").Shape, string][]} */ (
  inWords([
    ["next", "the next zone in walk order; the dark key at the bottom marks it"],
    ["looked", "looked at"],
    ["not", "not looked at, with a reason"],
    ["often", "look twice: at least three defects were found here on this phone's units, twice the mean of a zone"],
    ["critical", "critical: stop, tag, tell"],
    ["major", "major"],
    ["minor", "minor"],
    ["saved", "saved on this phone, not yet at the server"],
    ["sent", "the server has it"],
    ["refused", "the server refused it: open it and see why"],
    ["not_saved", "not saved, or a warning"],
  ])
);

/** @type {Screen} */
export const helpScreen = {
  path: "help",
  open: true,
  page({ app, address, session }) {
    const { plant } = app;
    const day = DAYS[session?.person.role ?? ""];
    return {
      title: t`Help`,
      body: html`${
          plant
            ? html`<h2>Whom to call</h2>
                ${calls(plant)}
                <h2>What can hurt here</h2>
                <p class="strong">${plant.standing_line}</p>
                ${plant.cautions.map(
                  (each) =>
                    html`<details class="more">
                      <summary>${each.code}: ${each.short.split(/[.:]/)[0]}</summary>
                      <p class="strong">${each.short}</p>
                      <p>${each.more}</p>
                    </details>`,
                )}`
            : html`<p>
                The plant's cautions come with the first sync. Until then ask the lead before you touch anything.
              </p>`
        }
        ${
          day
            ? html`<h2>Your day</h2>
                ${steps(day)}`
            : ""
        }
        <h2>Without the server</h2>
        ${steps(WITHOUT_SERVER)}
        <p><a class="button" href="/help">The whole handbook</a>, while the server answers.</p>
        <h2>The signs</h2>
        <ul class="list">
          ${SIGNS.map(([sign, words]) => html`<li class="plain">${shape(sign)} ${t(words)}</li>`)}
        </ul>
        <p>A hollow, broken sign on the drawing is a defect that is repaired and waits for another person's look.</p>
        <h2>The walk</h2>
        <ol class="steps">
          <li>Read the number off the metal.</li>
          <li>Touch the drawing where something is wrong, then the type, then Save.</li>
          <li>Take as many photos of it as it needs; touch one to circle the flaw on it.</li>
          <li>Where nothing is wrong, press the dark key: it marks the lit zone, and the next one lights.</li>
          <li>Press a zone and hold to read its name; slide off and nothing is touched.</li>
          <li>Views: every side, the list, the end.</li>
        </ol>`,
      actions: html`<a class="button" href="${address("menu")}">Menu</a>`,
    };
  },
};

/** @param {string[]} lines */
function steps(lines) {
  return html`<ol class="steps">
    ${lines.map((each) => html`<li>${t(each)}</li>`)}
  </ol>`;
}

/** @param {Plant} plant */
function calls(plant) {
  const all = [
    { who: plant.stop_who ?? t`the lead`, phone: plant.stop_phone, why: t`a critical finding` },
    ...plant.cautions
      .filter((each) => each.call || each.phone)
      .map((each) => ({
        who: each.call || (plant.stop_who ?? t`the lead`),
        phone: each.phone || (each.call ? "" : plant.stop_phone),
        why: t`caution ${each.code}`,
      })),
  ];
  return all.map(({ who, phone, why }) =>
    phone
      ? html`<a class="button main stop" href="tel:${phone}">Call ${who}, ${why}: ${phone}</a>`
      : html`<p>For ${why}: go to ${who}. The plant has named no number.</p>`,
  );
}
