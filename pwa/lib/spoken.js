/** Which language the app speaks now: the person's, else the phone's, else what the browser asks for. */

import { Declined, askJson } from "./api.js";
import { LANGUAGES, language, speak } from "./language.js";
import { present } from "./session.js";
import { putSettings } from "./settings.js";

/** @import {Settings} from "./shapes" */
/** @typedef {{words: Record<string, import("./language.js").Translation>, server: Record<string, string>}} Catalogue */

/** @type {Map<string, Catalogue>} */
const here = new Map([["en", { words: {}, server: {} }]]);
let wanted = "en";
let missing = false;

/**
 * The first language of a list that the app has, by its main part: "de" of "de-AT".
 * @param {readonly string[]} asked  tags of BCP 47
 */
export function offered(asked) {
  return asked.map((tag) => tag.toLowerCase().split("-")[0]).find((tag) => tag in LANGUAGES) ?? "en";
}

/**
 * The tag of the language to speak.
 * @param {Settings} [settings]  none where nothing can be kept
 */
export function languageFor(settings) {
  const person = settings && present(settings)?.person.code;
  const chosen = (person && settings.languages[person]?.tag) || settings?.language || "";
  return chosen in LANGUAGES ? chosen : offered(navigator.languages ?? []);
}

/** Whether the language that is wanted could not be loaded, so that English is spoken for it. */
export const languageMissing = () => missing;

/**
 * Speak the language that is wanted now; at once where it is here already.
 * @param {Settings} [settings]
 * @returns {void | Promise<void>}  a promise where it is still to come
 */
export function speakHere(settings) {
  const tag = languageFor(settings);
  if (tag === wanted) return undefined;
  wanted = tag;
  const catalogue = here.get(tag);
  if (catalogue) return begin(tag, catalogue);
  return load(tag).then(
    (loaded) => begin(wanted === tag ? tag : wanted, here.get(wanted) ?? loaded),
    () => {
      begin("en", { words: {}, server: {} });
      missing = true; // told among the warnings
      addEventListener("online", () => (wanted = ""), { once: true });
    },
  );
}

/**
 * @param {string} tag
 * @param {Catalogue} catalogue
 */
function begin(tag, catalogue) {
  missing = false;
  speak(tag, catalogue.words, catalogue.server);
  document.documentElement.lang = language();
}

/**
 * @param {string} tag
 * @returns {Promise<Catalogue>}
 */
async function load(tag) {
  const response = await fetch(new URL(`../words/${tag}.json`, import.meta.url));
  if (!response.ok) throw new Error(String(response.status));
  const catalogue = await response.json();
  here.set(tag, catalogue);
  return catalogue;
}

/**
 * Tell the server which language the person of a sign-in has chosen here. Nothing rests on it: a server of before, which
 * does not know the address, is told once it does. Raises Declined or Unreachable.
 * @param {IDBDatabase} db
 * @param {Settings} settings  changed in place
 * @param {string} token  of the sign-in
 */
export async function tellLanguage(db, settings, token) {
  const code = settings.sessions.find((each) => each.token === token)?.person.code ?? "";
  const own = settings.languages[code];
  if (!own || own.told) return;
  try {
    await askJson("language", { method: "POST", token, json: JSON.stringify({ language: own.tag }) });
  } catch (error) {
    if (error instanceof Declined && error.status === 404) return;
    throw error;
  }
  if (settings.languages[code] !== own) return; // another was chosen meanwhile
  const languages = { ...settings.languages, [code]: { ...own, told: true } };
  await putSettings(db, { languages });
  settings.languages = languages;
}
