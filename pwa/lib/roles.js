/** What roles somebody has: the first, by which they are named, and further ones. Asked here and nowhere else. */

import { language } from "./language.js";
import { ROLE, named, within } from "./words.js";

/** @typedef {{code?: string, role: string, also?: string[]} | null | undefined} InRoles  also: absent from servers of before */

export const MANAGER = "quality_manager";

/**
 * Every role, the first one first; none for nobody.
 * @param {InRoles} person
 */
export function rolesOf(person) {
  return person ? [person.role, ...(person.also ?? [])] : [];
}

/**
 * Whether one of these roles is theirs.
 * @param {InRoles} person
 * @param {string[]} any
 */
export function has(person, ...any) {
  return rolesOf(person).some((role) => any.includes(role));
}

/**
 * Whether they sign in and sign with more than a PIN.
 * @param {InRoles} person
 */
export function asksPassphrase(person) {
  return has(person, MANAGER, "administrator");
}

/**
 * Their roles within a sentence: "tester", "station lead and repairer".
 * @param {InRoles} person
 */
export function roleWords(person) {
  return new Intl.ListFormat(language()).format(rolesOf(person).map((role) => within(named(ROLE, role))));
}
