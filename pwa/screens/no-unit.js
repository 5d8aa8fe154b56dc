/** What a screen shows when the phone does not hold the unit that its address names. */

import { html } from "../lib/html.js";

/**
 * @param {import("./frame.js").Context} context
 * @returns {import("./frame.js").Page}
 */
export function noUnit({ params, address }) {
  return {
    title: "Unit not on this phone",
    body: html`<p>${params.chassis ?? ""} is not on this phone. Sync where there is signal; until then write on the paper sheet.</p>`,
    actions: html`<a class="button main" href="${address("find")}">Find a unit</a><a class="button" href="${address("units")}">Units in work</a>`,
  };
}
