/** Check signs of numbers, as the server works them out (`qc/domain/numbers/check_signs.py` names their sources). */

import { lengthOf } from "./chassis.js";

/** @import {Numbers} from "./shapes" */

const WEIGHTS = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
const ALIKE = ["AJ", "BKS", "CLT", "DMU", "ENV", "FW", "GPX", "HY", "RZ"];

/** @param {string} sign  its figure: its own, or that of its letter */
const figure = (sign) => (/[0-9]/.test(sign) ? Number(sign) : ALIKE.findIndex((letters) => letters.includes(sign)) + 1);

/** @type {Record<string, (before: string, after: string) => string>} */
const CHECKS = {
  "weighted-mod-11"(before, after) {
    const sum = [...before, "0", ...after].reduce((all, sign, place) => all + figure(sign) * WEIGHTS[place], 0);
    return sum % 11 === 10 ? "X" : String(sum % 11);
  },
  "mod-97-10"(before) {
    const figures = [...before, "0", "0"].map((sign) => String(parseInt(sign, 36))).join("");
    const left = [...figures].reduce((rest, each) => (rest * 10 + Number(each)) % 97, 0);
    return String(98 - left).padStart(2, "0");
  },
};

/**
 * Whether a whole number of a model checks; true where it has nothing to check by, or this app does not know its check.
 * @param {string} chassis
 * @param {string} code
 * @param {Numbers} [numbers]
 */
export function checks(chassis, code, numbers) {
  const place = numbers?.chassis.findIndex(({ kind }) => kind === "check") ?? -1;
  if (!numbers || place < 0 || !(numbers.check in CHECKS)) return true;
  const at = lengthOf(code, { ...numbers, chassis: numbers.chassis.slice(0, place) });
  const end = at + numbers.chassis[place].length;
  return chassis.slice(at, end) === CHECKS[numbers.check](chassis.slice(0, at), chassis.slice(end));
}
