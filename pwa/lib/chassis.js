/** Chassis numbers as people say and type them: their last characters, of the letters that the plant uses. */

/** @import {Numbers} from "./shapes" */

import { t } from "./language.js";

/** @type {Record<string, string>} */
const READ_AS = { I: "1", O: "0", Q: "0" };

/**
 * What was typed, in capitals without spaces and dashes, with I, O and Q read as the figures they resemble where the
 * plant's numbers never hold them. changed: the letters that were read so.
 * @param {string} typed
 * @param {Numbers} [numbers]
 */
export function readTyped(typed, numbers) {
  const plain = typed.toUpperCase().replace(/[^A-Z0-9]/g, "");
  const reads = (/** @type {string} */ sign) => sign in READ_AS && !numbers?.letters.includes(sign);
  const changed = [...new Set([...plain].filter(reads))];
  return { text: [...plain].map((sign) => (reads(sign) ? READ_AS[sign] : sign)).join(""), changed };
}

/**
 * @typedef {{chassis: string, shop_number: string}} Numbered
 */

/**
 * Units whose full or shop number ends with the text, those in `units` order.
 * @template {Numbered} U
 * @param {U[]} units
 * @param {string} text  as readTyped gives it
 */
export function endingWith(units, text) {
  if (!text) return [];
  return units.filter((unit) => unit.chassis.endsWith(text) || unit.shop_number.endsWith(text));
}

/**
 * What a whole number tells of a unit of a model, null where it is none of that model's. What it checks by is looked at
 * where a number is typed (`check-signs.js`). Where an older server does not say the form: the model's code and "00".
 * @param {string} chassis
 * @param {{code: string, digit: string}} model
 * @param {Numbers} [numbers]
 */
export function numbersOf(chassis, { code, digit }, numbers) {
  if (!numbers) {
    const place = chassis.indexOf(`${code}00`);
    const figures = chassis.slice(-5);
    if (place < 1 || !/^[0-9]{5}$/.test(figures) || !Number(figures)) return null;
    return { sequence: Number(figures), shop_number: chassis.slice(1, place) + digit + figures };
  }
  /** @type {Record<string, string>} */
  const told = { model: code, digit };
  let at = 0;
  let sequence = 0;
  for (const { kind, text, length } of numbers.chassis) {
    const piece = chassis.slice(at, (at += length || code.length));
    if (kind === "sequence") sequence = /^[0-9]+$/.test(piece) ? Number(piece) : 0;
    else if (piece !== (kind === "text" ? text : (told[kind] ?? piece))) return null;
  }
  if (at !== chassis.length || !sequence) return null;
  const shop = numbers.shop.map(({ kind, text, length }) =>
    kind === "sequence" ? String(sequence).padStart(length, "0") : (told[kind] ?? text),
  );
  return { sequence, shop_number: shop.join("") };
}

/**
 * How long a whole number of a model is.
 * @param {string} code
 * @param {Numbers} [numbers]
 */
export function lengthOf(code, numbers) {
  return numbers ? numbers.chassis.reduce((sum, { length }) => sum + (length || code.length), 0) : 17;
}

/**
 * Changes between two texts: one sign replaced, left out, added, or two neighbours swapped counts 1.
 * @param {string} a
 * @param {string} b
 */
export function slips(a, b) {
  const rows = Array.from({ length: a.length + 1 }, (_, i) =>
    Array.from({ length: b.length + 1 }, (_, j) => (i ? (j ? 0 : i) : j)),
  );
  for (let i = 1; i <= a.length; i += 1) {
    for (let j = 1; j <= b.length; j += 1) {
      rows[i][j] = Math.min(rows[i - 1][j] + 1, rows[i][j - 1] + 1, rows[i - 1][j - 1] + Number(a[i - 1] !== b[j - 1]));
      const swapped = i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1];
      if (swapped) rows[i][j] = Math.min(rows[i][j], rows[i - 2][j - 2] + 1);
    }
  }
  return rows[a.length][b.length];
}

/**
 * Known units nearest to what was typed: at most `most`, within two slips of the same number of last characters.
 * @template {Numbered} U
 * @param {U[]} units
 * @param {string} text
 * @param {number} [most]
 */
export function nearest(units, text, most = 4) {
  if (text.length < 3) return [];
  return units
    .map((unit) => ({
      unit,
      slips: Math.min(slips(text, unit.chassis.slice(-text.length)), slips(text, unit.shop_number.slice(-text.length))),
    }))
    .filter((each) => each.slips <= 2)
    .sort((a, b) => a.slips - b.slips)
    .slice(0, most)
    .map((each) => each.unit);
}

/**
 * What a label says that was scanned: the number to look for, and words for where it is none of these units' own.
 * A label is not read off the metal: nothing in it is taken for a letter that it is not.
 * @param {Numbered[]} units
 * @param {string[]} codes  as the browser read them, of one picture
 */
export function labelRead(units, codes) {
  const told = codes.map((code) => code.trim().toUpperCase()).filter(Boolean);
  const own = [...new Set(told)].filter((code) =>
    units.some((unit) => [unit.chassis, unit.shop_number].includes(code)),
  );
  if (own.length === 1) return { number: own[0], words: "" };
  if (own.length)
    return { number: "", words: t`Several labels are in the picture: ${own.join(", ")}. Take one alone.` };
  if (!told.length) return { number: "", words: t`No code was read. Type the last characters.` };
  const shown = told[0].length > 40 ? `${told[0].slice(0, 40)}…` : told[0];
  return {
    number: "",
    words: t`The label says ${shown}, which is no unit on this phone: another plant's, or one that it has not synced yet. Read the metal and type the last characters.`,
  };
}
