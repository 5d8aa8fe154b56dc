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
  const words = said
    .toLowerCase()
    .split(/[^\p{L}\p{N}-]+/u)
    .filter((word) => word.length > 1);
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
  const name = parts(`${type.name} ${type.code}`);
  const everyday = type.words ?? [];
  const group = parts(type.group_name);
  const bare = word.replace(/(ing|ed|es|s|y)$/, "");
  const stem = bare.length > 2 ? bare : word;
  if (begins(name, word)) return 6;
  if (begins(name, stem)) return 5;
  if (begins(everyday, stem) || everyday.includes(unDoubled(stem))) return 4;
  if (begins(group, stem)) return 3;
  return word.length >= FORGIVEN && [...name, ...everyday].some((each) => isOneSlip(word, each)) ? 1 : 0;
}

/** @param {string} text */
function parts(text) {
  return text.toLowerCase().split(/[^\p{L}\p{N}-]+/u);
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
