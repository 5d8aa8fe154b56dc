/** How plain words find a type: by its name, by what people at the unit say for it, and with one slip of the finger. */

/** @import {Type} from "./shapes" */

const FORGIVEN = 4; // letters from which on one slip is forgiven: shorter words would all be alike

/**
 * Types that plain words find, the best first: every word must meet the type's name, group or code, or one of the
 * everyday words that the plant's table holds for it.
 * @param {Type[]} types
 * @param {string} said
 */
export function searchTypes(types, said) {
  const words = split(folded(said)).filter((word) => word.length > 1);
  if (!words.length) return [];
  return types
    .map((type, place) => ({ type, place, score: Math.min(...words.map((word) => wordScore(type, word))) }))
    .filter((each) => each.score > 0)
    .sort((a, b) => b.score - a.score || a.place - b.place)
    .map((each) => each.type);
}

/**
 * @param {Type} type
 * @param {string} word
 */
function wordScore(type, word) {
  const { name, everyday, group } = wordsOf(type);
  const bare = word.replace(/(ing|ed|es|s|y)$/, "");
  const stem = bare.length > 2 ? bare : word;
  if (begins(name, word)) return 6;
  if (begins(name, stem)) return 5;
  if (begins(everyday, stem) || everyday.includes(unDoubled(stem))) return 4;
  if (begins(group, stem)) return 3;
  return word.length >= FORGIVEN && [...name, ...everyday].some((each) => isOneSlip(word, each)) ? 1 : 0;
}

/** @type {WeakMap<Type, {name: string[], everyday: string[], group: string[]}>} */
const known = new WeakMap(); // of three hundred types, at each key that is pressed

/** @param {Type} type */
function wordsOf(type) {
  let found = known.get(type);
  if (!found) {
    const everyday = (type.words ?? []).flatMap(parts);
    found = {
      name: parts(`${type.name} ${type.code} ${type.own_name ?? ""}`),
      everyday,
      group: parts(`${type.group_name} ${type.own_group ?? ""}`),
    };
    known.set(type, found);
  }
  return found;
}

/**
 * The words of a text as they are sought: without case and marks, and with marks written out, tuer and tur for Tür.
 * @param {string} text
 */
function parts(text) {
  return [...new Set([...split(folded(text)), ...split(folded(writtenOut(text)))])].filter(Boolean);
}

/** @param {string} text */
function split(text) {
  return text.split(/[^\p{L}\p{N}-]+/u);
}

// Letters that Unicode does not take apart, as people type them who have no key for them.
/** @type {Record<string, string>} */
const PLAIN = { ß: "ss", ø: "o", æ: "ae", œ: "oe", ł: "l", đ: "d", ð: "d", þ: "th", ı: "i" };
/** @type {Record<string, string>} */
const OUT = { ä: "ae", ö: "oe", ü: "ue", å: "aa", ø: "oe" };

/**
 * A text without case and marks (Unicode's canonical decomposition, UAX #15).
 * @param {string} text
 */
export function folded(text) {
  const bare = text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "");
  return bare.replace(/[ßøæœłđðþı]/g, (letter) => PLAIN[letter]);
}

/** @param {string} text */
function writtenOut(text) {
  return text
    .toLowerCase()
    .normalize("NFC")
    .replace(/[äöüåø]/g, (letter) => OUT[letter]);
}

/** @param {string} stem  "dripp" of dripping */
function unDoubled(stem) {
  return stem.replace(/(.)\1$/, "$1");
}

/**
 * @param {string[]} names
 * @param {string} word
 */
function begins(names, word) {
  return names.some((each) => each.startsWith(word));
}

/**
 * Whether a word and another, or as much of the other as was typed, differ by one letter: another, one more, one
 * less, or two neighbours swapped.
 * @param {string} word
 * @param {string} other
 */
export function isOneSlip(word, other) {
  return [-1, 0, 1].some((more) => differsByOne(word, other.slice(0, word.length + more)));
}

/**
 * @param {string} a
 * @param {string} b
 */
function differsByOne(a, b) {
  let at = 0;
  while (at < a.length && a[at] === b[at]) at += 1;
  if (a.slice(at + 1) === b.slice(at + 1) || a.slice(at + 1) === b.slice(at) || a.slice(at) === b.slice(at + 1))
    return true;
  return a[at] === b[at + 1] && a[at + 1] === b[at] && a.slice(at + 2) === b.slice(at + 2);
}
