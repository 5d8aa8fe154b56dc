/** A page of the handbook, without signal too; the paragraph that was asked for comes first. */

import { sectionsOf, TITLES, tongue } from "../lib/handbook.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";

/** @import {Screen} from "../lib/shapes" */

/** @type {Map<string, Awaited<ReturnType<typeof sectionsOf>> | string>} */
const read = new Map(); // a page's sections, or why it could not be had

const keyOf = (/** @type {string} */ page) => `${tongue()}/${page}`;

/** @type {Screen} */
export const handbookScreen = {
  path: "help/:page/:anchor",
  open: true,
  page({ params, address, redraw }) {
    const found = Object.hasOwn(TITLES, params.page) && TITLES[params.page];
    const key = keyOf(params.page);
    const told = read.get(key);
    if (found && !told)
      void sectionsOf(params.page).then(
        (sections) => (read.set(key, sections), redraw()),
        (error) => (read.set(key, String(error?.message ?? error)), redraw()),
      );
    return {
      title: found ? t(found) : t`No such page`,
      body: !found
        ? html`<p>The handbook has no page of this name.</p>`
        : !told
          ? html`<p>One moment.</p>`
          : typeof told === "string"
            ? html`<p class="strong">This page is not on this phone, and it could not be had: ${told}.</p>
                <button type="button" class="main" data-act="again">Try again</button>`
            : html`<div class="handbook" lang="${tongue()}">
                ${[...told]
                  .sort((a, b) => +(b.anchor === params.anchor) - +(a.anchor === params.anchor))
                  .map(({ text }) => text)}
              </div>`,
      actions: html`<a class="button" href="${address("help")}">All help</a
        ><button type="button" data-act="back">Back</button>`,
    };
  },
  acts: {
    back: ({ back }) => back(),
    again: ({ params, redraw }) => (read.delete(keyOf(params.page)), redraw()),
  },
};
