/**
 * The language that the app speaks. Sentences are written in English where they are shown and looked up whole, with
 * their places, in the catalogue of the language; English has none. What a catalogue lacks is shown in English.
 */

/** @typedef {string | Record<string, string>} Translation  one sentence, or one for each plural category of the language */
/** @typedef {{texts: readonly string[], order: number[]}} Plan  pieces of text, and which value stands behind each */

/** @type {Record<string, string>} */
export const LANGUAGES = { en: "English", de: "Deutsch" };

const MARK = "\u0001"; // where a value stands, while a template is one text
const EACH_MARK = new RegExp(MARK, "g");
// Emphasis belongs to its sentence; every other element ends one.
const TAGS = /(<(?!\/?(?:strong|em|b)>)[^>]*>)/;
const SPOKEN = /\b(aria-label|alt|placeholder|title)="([^"]*)"/g;

let spoken = "en";
/** @type {(key: string) => Translation | undefined} */
let lookUp = () => undefined;
/** @type {Record<string, string>} */
let toldByServer = {};
/** @type {[RegExp, string, string][] | null} */
let forms = null;
/** @type {Intl.PluralRules} */
let plurals = new Intl.PluralRules("en");
/** @type {WeakMap<readonly string[], Plan>} */
let plans = new WeakMap();

/**
 * Speak a language from now on.
 * @param {string} tag  of BCP 47
 * @param {Record<string, Translation>} catalogue
 * @param {Record<string, string>} [server]  the server's sentences
 */
export function speak(tag, catalogue, server = {}) {
  spoken = tag;
  toldByServer = server;
  forms = null;
  lookUp = (key) => (Object.hasOwn(catalogue, key) ? catalogue[key] : undefined);
  plurals = new Intl.PluralRules(tag);
  plans = new WeakMap();
}

/** The language's tag. English is Britain's, with the day before the month. */
export const language = () => (spoken === "en" ? "en-GB" : spoken);

/**
 * A key may end in where it stands, after two bars: the same English word is not the same everywhere.
 * @param {string} key
 */
function translated(key) {
  const found = lookUp(key);
  return typeof found === "string" ? found : key.replace(/ \|\| .*$/, "");
}

/**
 * A sentence in the language spoken: a template, or a text that a table of words holds.
 * @param {TemplateStringsArray | string} strings
 * @param {...unknown} values
 * @returns {string}
 */
export function t(strings, ...values) {
  if (typeof strings === "string") return translated(strings);
  const { texts, order } = planned(strings, (joined) => sentence(joined));
  return texts.reduce((text, piece, place) => text + String(values[order[place - 1]]) + piece);
}

/**
 * A sentence for one or for several.
 * @param {number} count  stands at {0}
 * @param {string} one  in English, for one
 * @param {string} other  in English, for every other number; the key
 * @param {...unknown} more  for {1}, {2}, …
 */
export function counted(count, one, other, ...more) {
  const found = lookUp(other);
  const words = typeof found === "object" ? (found[plurals.select(count)] ?? found.other) : found;
  const values = [number(count), ...more];
  return (words ?? (count === 1 ? one : other)).replace(/\{(\d)\}/g, (_, place) => String(values[place]));
}

/**
 * What the server said, in the language spoken. It says everything in English, as its record keeps it: a sentence is known
 * again by its form, and what stands at its places is said in the same way, save at {0!}, where somebody wrote it. What
 * is not known is left as it is.
 * @param {string} text
 * @returns {string}
 */
export function told(text) {
  if (spoken === "en" || !text) return text;
  return text.split("\n").map(one).join("\n");
}

/**
 * @param {string} text
 * @returns {string}
 */
function one(text) {
  const plain = text.replace(/\.$/, "");
  const small = plain.slice(0, 1).toLowerCase() + plain.slice(1);
  const ways = [...new Set([text, plain, small])];
  const whole = ways.filter((each) => Object.hasOwn(toldByServer, each));
  for (const each of whole.length ? whole : ways) {
    const known = sentenceOf(each);
    if (known === null) continue;
    const large = each === text || each === plain ? known : known.slice(0, 1).toUpperCase() + known.slice(1);
    return each === text || plain === text ? large : `${large}.`;
  }
  const [, sign, value, unit] = /^([<>]?)(-?\d+\.\d+)( .*)?$/s.exec(text) ?? [];
  if (value) return `${sign}${number(Number(value))}${unit ?? ""}`;
  // A list, or what it is about and what is said of it.
  for (const mark of ["; ", ": "]) {
    const at = text.indexOf(mark);
    const rest = at < 0 ? "" : one(text.slice(at + mark.length));
    const first = at < 0 ? "" : one(text.slice(0, at));
    if (at >= 0 && (rest !== text.slice(at + mark.length) || first !== text.slice(0, at))) return first + mark + rest;
  }
  return text;
}

/**
 * @param {string} text
 * @returns {string | null}  null for one that is not known
 */
function sentenceOf(text) {
  if (Object.hasOwn(toldByServer, text)) return toldByServer[text];
  const sign = (/** @type {string} */ key) => key.replace(/[.*+?^$()|[\]\\]/g, "\\$&");
  forms ??= Object.entries(toldByServer)
    .filter(([key]) => /\{\d!?\}/.test(key))
    .sort(([a], [b]) => b.length - a.length)
    .map(([key, said]) => {
      const own = key.split(/\{\d!?\}/).sort((a, b) => b.length - a.length)[0];
      return [new RegExp(`^${sign(key).replace(/\{\d!?\}/g, "(.+?)")}$`, "s"), own, said];
    });
  for (const [form, own, said] of forms) {
    // A long reason full of blanks would be tried at each of them by a form that cannot be it.
    const found = text.includes(own) ? form.exec(text) : null;
    const value = (/** @type {string} */ place) => /** @type {RegExpExecArray} */ (found)[Number(place) + 1];
    if (found) return said.replace(/\{(\d)(!?)\}/g, (_, place, kept) => (kept ? value(place) : one(value(place))));
  }
  return null;
}

/**
 * A number with the language's decimal sign; no sign between thousands, as on an instrument.
 * @param {number} value
 */
export function number(value) {
  return new Intl.NumberFormat(language(), { useGrouping: false, maximumFractionDigits: 9 }).format(value);
}

/**
 * Names one after another, "a, b and c".
 * @param {string[]} names
 */
export function listOf(names) {
  return new Intl.ListFormat(language(), { type: "conjunction" }).format(names);
}

/**
 * A table of words that is translated where it is shown, never as it is made: then it would stay in one language.
 * @template T
 * @param {T} words
 */
export const inWords = (words) => words;

/**
 * The pieces of a template of markup in the language spoken.
 * @param {readonly string[]} strings
 * @returns {Plan}
 */
export function planOf(strings) {
  return planned(strings, (joined) => replaced(joined, translated));
}

/**
 * @param {readonly string[]} strings
 * @param {(joined: string) => string} to  the marks are numbered
 * @returns {Plan}
 */
function planned(strings, to) {
  const known = plans.get(strings);
  if (known) return known;
  let at = 0;
  const pieces = to(strings.join(MARK).replace(EACH_MARK, () => `${MARK}${at++}${MARK}`)).split(MARK);
  const plan = {
    texts: pieces.filter((_, place) => place % 2 === 0),
    order: pieces.filter((_, place) => place % 2 === 1).map(Number),
  };
  plans.set(strings, plan);
  return plan;
}

/** @param {string} numbered */
function sentence(numbered) {
  return keyed(numbered, translated);
}

/**
 * Markup with every sentence that it shows or says replaced.
 * @param {string} numbered
 * @param {(key: string) => string} by
 */
function replaced(numbered, by) {
  return numbered
    .split(TAGS)
    .map((piece, place) =>
      place % 2 ? piece.replace(SPOKEN, (_, name, text) => `${name}="${keyed(text, by)}"`) : keyed(piece, by),
    )
    .join("");
}

const PLACES = new RegExp(`${MARK}(\\d+)${MARK}`, "g");

/**
 * One text: its key has its white space as a page shows it, and its places numbered from 0.
 * @param {string} text
 * @param {(key: string) => string} by
 */
function keyed(text, by) {
  const places = [...text.matchAll(PLACES)].map((each) => each[1]);
  let at = 0;
  const key = text
    .replace(PLACES, () => `{${at++}}`)
    .replace(/\s+/g, " ")
    .trim();
  if (!/\p{L}{2}/u.test(key.replace(/&\w+;/g, ""))) return text;
  const words = by(key);
  if (words === key) return text;
  const [before, after] = [/^\s*/.exec(text)?.[0] ?? "", /\s*$/.exec(text)?.[0] ?? ""];
  return before + words.replace(/\{(\d+)\}/g, (_, place) => `${MARK}${places[place]}${MARK}`) + after;
}

/**
 * The sentences of a template, for who makes a catalogue.
 * @param {readonly string[]} strings
 * @param {boolean} isMarkup
 */
export function sentencesOf(strings, isMarkup) {
  /** @type {string[]} */
  const keys = [];
  const note = (/** @type {string} */ key) => (keys.push(key), key);
  let at = 0;
  const numbered = strings.join(MARK).replace(EACH_MARK, () => `${MARK}${at++}${MARK}`);
  if (isMarkup) replaced(numbered, note);
  else keyed(numbered, note);
  return keys;
}
