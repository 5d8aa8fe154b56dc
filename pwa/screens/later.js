/**
 * Screens that no defect needs, loaded from the same kept version when they are first opened, or before in a quiet
 * moment.
 */

import { html } from "../lib/html.js";
import { t } from "../lib/language.js";

/** @import {Later, Screen} from "../lib/shapes" */

/** @type {Later[]} */
export const LATER = [
  { path: "sign-in", open: true, load: async () => (await import("./sign-in.js")).signInScreen },
  { path: "secret", load: async () => (await import("./secret.js")).secretScreen },
  { path: "enrol/:letters", open: true, load: async () => (await import("./enrol.js")).enrolScreen },
  { path: "unit/:chassis", load: async () => (await import("./unit.js")).unitScreen },
  { path: "unit/:chassis/search/:zone", load: async () => (await import("./search.js")).searchScreen },
  { path: "unit/:chassis/defect/:defect", load: async () => (await import("./defect.js")).defectScreen },
  { path: "unit/:chassis/photo/:defect/:photo", load: async () => (await import("./photo.js")).photoScreen },
  { path: "unit/:chassis/origin/:defect", load: async () => (await import("./defect.js")).originScreen },
  { path: "unit/:chassis/views/:view", load: async () => (await import("./views.js")).viewsScreen },
  { path: "unit/:chassis/tests", load: async () => (await import("./tests.js")).testsScreen },
  { path: "unit/:chassis/test/:test", load: async () => (await import("./tests.js")).testScreen },
  { path: "unit/:chassis/repair/:defect", load: async () => (await import("./repair.js")).repairScreen },
  { path: "unit/:chassis/recheck/:defect", load: async () => (await import("./repair.js")).recheckScreen },
  { path: "unit/:chassis/correct/:defect", load: async () => (await import("./change.js")).correctScreen },
  { path: "unit/:chassis/withdraw/:defect", load: async () => (await import("./change.js")).withdrawScreen },
  { path: "unit/:chassis/place", load: async () => (await import("./place.js")).placeScreen },
  { path: "unit/:chassis/missing", load: async () => (await import("./blockers.js")).missingScreen },
  { path: "unit/:chassis/release", load: async () => (await import("./release.js")).releaseScreen },
  { path: "unit/:chassis/begin", load: async () => (await import("./inspection.js")).beginScreen },
  { path: "unit/:chassis/end", load: async () => (await import("./inspection.js")).endScreen },
  { path: "unit/:chassis/rest/:view", load: async () => (await import("./rest.js")).restScreen },
  { path: "met/:typed", load: async () => (await import("./met.js")).metScreen },
  { path: "station", load: async () => (await import("./station.js")).stationScreen },
  { path: "menu", open: true, load: async () => (await import("./menu.js")).menuScreen },
  { path: "help", open: true, load: async () => (await import("./help.js")).helpScreen },
  {
    path: "help/:page/:anchor",
    open: true,
    load: async () => (await import("./handbook.js")).handbookScreen,
  },
  { path: "outbox", load: async () => (await import("./outbox.js")).outboxScreen },
  { path: "settings", open: true, load: async () => (await import("./settings.js")).settingsScreen },
];

export const loadTeller = async () => (await import("../lib/told-by.js")).tell;

/** @typedef {typeof import("./view-picture.js")} Pictures */

/** @type {Pictures | null} */
let drawn = null;

/**
 * Have the pictures of the views do something, at once where they are loaded: nothing is painted in between then.
 * @template T
 * @param {(pictures: Pictures) => T} act
 */
export async function pictures(act) {
  if (drawn) return act(drawn);
  drawn = await import("./view-picture.js");
  return act(drawn);
}

/** @type {Map<Later, Screen>} */
const here = new Map();

/**
 * A screen at once where it is here, else when it has come. Rejects where it can be had neither from the phone nor from
 * the server; it may be asked for again.
 * @param {Screen | Later} wanted
 * @returns {Screen | Promise<Screen>}
 */
export function openScreen(wanted) {
  return "load" in wanted ? (here.get(wanted) ?? load(wanted)) : wanted;
}

/** @param {Later} later */
async function load(later) {
  const screen = await later.load();
  here.set(later, screen);
  return screen;
}

/** Load all of them one by one while nothing else is to do. One that fails is asked for again when it is opened. */
export async function loadQuietly() {
  for (const later of LATER) {
    await quiet();
    try {
      await openScreen(later);
    } catch {
      return; // told on the screen of the person who opens it; until then nobody misses it
    }
  }
}

function quiet() {
  return new Promise((resolve) =>
    typeof requestIdleCallback === "function" ? requestIdleCallback(resolve) : setTimeout(resolve, 200),
  );
}

/**
 * What stands in the place of a screen that could not be loaded.
 * @param {unknown} error
 * @returns {Screen}
 */
export function notLoaded(error) {
  const why = error instanceof Error ? error.message : String(error);
  return {
    path: "",
    page: ({ address, session }) => ({
      title: t`This page did not load`,
      body: html`<p class="strong">A part of the app is missing on this phone. What you saved is kept, drafts too.</p>
        <p>Try again where there is signal: the app starts anew and opens here.</p>
        <details class="more">
          <summary>What the browser says</summary>
          <p>${why}</p>
        </details>`,
      actions: html`<button type="button" class="main" data-act="again">Try again</button>
        ${session ? html`<a class="button" href="${address("units")}">Units in work</a>` : ""}`,
    }),
    acts: {
      again: () => location.reload(), // a browser may keep for the life of a page that a module did not come
    },
  };
}
