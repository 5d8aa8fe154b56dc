/** The handbook on the phone: its pages, which paragraph tells of which screen, and their text as the server's own. */

import { html, Markup } from "./html.js";
import { inWords, language, t } from "./language.js";

/** The title of each page by its name in addresses, in the order of the book. @type {Record<string, string>} */
export const TITLES = inWords({
  inspector: "Inspector",
  tester: "Test bay",
  repairer: "Repairer",
  lead: "Station lead",
  manager: "Quality manager",
  planner: "Planner",
  dispatch: "Dispatch",
  administrator: "Administrator",
  screens: "Pages for everybody",
  "reading-the-review": "Reading the review",
  "server-down": "When the server is down",
  "phone-lost": "When a phone is lost",
  starting: "Starting a plant",
  commands: "Commands",
  settings: "Settings",
  auditor: "For an auditor",
});

/** The page of a role's day, by role, where its name is another. @type {Record<string, string>} */
export const OF_ROLE = { station_lead: "lead", quality_manager: "manager" };

/** The folder of the language spoken; the book stands whole in each. */
export const tongue = () => (language() === "en-GB" ? "en" : language());

/** The paragraph that tells of a screen, by the screen's path. @type {Record<string, string>} */
export const PARAGRAPHS = {
  units: "inspector/find",
  find: "inspector/find",
  station: "lead/passing",
  outbox: "inspector/unsent",
  settings: "screens/app",
  secret: "screens/own-secret",
  "sign-in": "screens/sign-in",
  "enrol/:letters": "administrator/phones",
  "met/:typed": "inspector/met",
  "unit/:chassis": "screens/unit",
  "unit/:chassis/begin": "inspector/day",
  "unit/:chassis/walk/:view": "inspector/walk",
  "unit/:chassis/views/:view": "inspector/walk",
  "unit/:chassis/zone/:zone": "inspector/defect",
  "unit/:chassis/search/:zone": "inspector/defect",
  "unit/:chassis/draft/:draft": "inspector/defect",
  "unit/:chassis/origin/:defect": "inspector/defect",
  "unit/:chassis/photo/:defect/:photo": "inspector/defect",
  "unit/:chassis/defect/:defect": "inspector/defect",
  "unit/:chassis/correct/:defect": "inspector/correct",
  "unit/:chassis/withdraw/:defect": "inspector/correct",
  "unit/:chassis/stop/:defect": "inspector/critical",
  "unit/:chassis/rest/:view": "inspector/walk",
  "unit/:chassis/end": "inspector/day",
  "unit/:chassis/tests": "tester/day",
  "unit/:chassis/test/:test": "tester/value",
  "unit/:chassis/repair/:defect": "repairer/day",
  "unit/:chassis/recheck/:defect": "inspector/recheck",
  "unit/:chassis/place": "planner/place",
  "unit/:chassis/missing": "inspector/release",
  "unit/:chassis/release": "inspector/release",
};

const FROM = new URL("../../static/handbook/", import.meta.url);

/**
 * A page's sections, the first before any heading. The text is a file of the app's own version, kept with it.
 * Rejects where it can be had neither from the phone nor from the server.
 * @param {string} page
 * @returns {Promise<{ anchor: string, text: Markup }[]>}
 */
export async function sectionsOf(page) {
  const answer = await fetch(new URL(`${tongue()}/${page}.html`, FROM));
  if (!answer.ok) throw new Error(t`the server answered ${answer.status}`);
  return sections(await answer.text(), FROM.href);
}

/**
 * @param {string} written  the page as it stands in its file
 * @param {string} from  where the handbook's pictures are
 * @returns {{ anchor: string, text: Markup }[]}
 */
export function sections(written, from) {
  const told = written
    .replace(/<h1>.*<\/h1>\n/, "")
    .replaceAll('src="pictures/', `src="${from}pictures/`)
    .replace(
      /<a href="\/help\/([a-z-]+)#?([a-z-]*)">(.*?)<\/a>/g,
      (_, page, anchor, words) =>
        html`<a class="button" href="#/help/${page}/${anchor || "day"}">${new Markup(words)}</a>`.text,
    )
    .replace(/<a href="\/[^"]*">(.*?)<\/a>/g, "<strong>$1</strong>"); // a page for a desk
  return told
    .split(/(?=<h2 id=")/)
    .filter((part) => part.trim())
    .map((part) => ({ anchor: /^<h2 id="([a-z-]+)"/.exec(part)?.[1] ?? "", text: new Markup(part) }));
}
