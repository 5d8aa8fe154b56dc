/** Help without signal: whom to call, the plant's cautions in full, what each sign means, the pages of the handbook. */

import { OF_ROLE, TITLES } from "../lib/handbook.js";
import { html } from "../lib/html.js";
import { inWords, t } from "../lib/language.js";
import { cautionWords } from "../lib/plant.js";
import { rolesOf } from "../lib/roles.js";
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
    const own = rolesOf(session?.person)
      .map((role) => OF_ROLE[role] ?? role)
      .filter((page) => Object.hasOwn(TITLES, page));
    const link = (/** @type {string} */ page, /** @type {string} */ words) =>
      html`<a class="button" href="${address("help", page, "day")}">${words}</a>`;
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
                      <summary>${cautionWords(plant, each.code)}</summary>
                      <p class="strong">${each.short}</p>
                      <p>${each.more}</p>
                    </details>`,
                )}`
            : html`<p>
                The plant's cautions come with the first sync. Until then ask the lead before you touch anything.
              </p>`
        }
        <h2>The handbook</h2>
        <div class="groups">
          ${own.map((page) => link(page, t`Your day: ${t(TITLES[page])}`))}
          ${Object.keys(TITLES)
            .filter((page) => !own.includes(page))
            .map((page) => link(page, t(TITLES[page])))}
        </div>
        <h2>The signs</h2>
        <ul class="list">
          ${SIGNS.map(([sign, words]) => html`<li class="plain">${shape(sign)} ${t(words)}</li>`)}
        </ul>
        <p>A hollow, broken sign on the drawing is a defect that is repaired and waits for another person's look.</p>`,
      actions: html`<a class="button" href="${address("menu")}">Menu</a>`,
    };
  },
};

/** @param {Plant} plant */
function calls(plant) {
  const all = [
    { who: plant.stop_who ?? t`the lead`, phone: plant.stop_phone, why: t`a critical finding` },
    ...plant.cautions
      .filter((each) => each.call || each.phone)
      .map((each) => ({
        who: each.call || (plant.stop_who ?? t`the lead`),
        phone: each.phone || (each.call ? "" : plant.stop_phone),
        why: cautionWords(plant, each.code),
      })),
  ];
  return all.map(({ who, phone, why }) =>
    phone
      ? html`<a class="button main stop" href="tel:${phone}">Call ${who}, ${why}: ${phone}</a>`
      : html`<p>For ${why}: go to ${who}. The plant has named no number.</p>`,
  );
}
