/** The plant in the language spoken: its tables may name the same codes in further languages. */

import { language } from "./language.js";

/** @import {Plant} from "./shapes" */

/** @typedef {Record<string, Record<string, Record<string, string>>>} Told  by kind of thing, code and column */

/**
 * The words that a plant has in a language: of its very tag, else of another of the same main part.
 * @param {Plant} plant
 * @param {string} tag
 * @returns {Told | undefined}
 */
function toldIn({ names = {} }, tag) {
  const main = (/** @type {string} */ each) => each.split("-")[0];
  return names[tag] ?? names[Object.keys(names).find((each) => main(each) === main(tag)) ?? ""];
}

/**
 * The plant with its names in the language spoken, the plant's own where it has none; types are found by both.
 * @param {Plant} plant  as the server sent it
 * @returns {Plant}
 */
export function inOwnWords(plant) {
  const told = toldIn(plant, language());
  if (!told) return plant;
  const of = (/** @type {string} */ table, /** @type {string} */ code) => told[table]?.[code] ?? {};
  /** @type {<T extends object>(all: T[], table: string, code: keyof T) => T[]} */
  const named = (all, table, code) => all.map((each) => ({ ...each, ...of(table, String(each[code])) }));
  return {
    ...plant,
    ...of("plant", "plant"),
    models: named(plant.models, "model", "code"),
    views: named(plant.views, "view", "id"),
    zones: plant.zones.map((each) => ({ ...each, ...of("zone", each.key), own_name: each.name })),
    stations: named(plant.stations, "station", "id"),
    tests: plant.tests.map((each) => ({ ...each, ...of("test", each.id), own_name: each.name })),
    cautions: named(plant.cautions, "caution", "code"),
    types: plant.types.map((each) => {
      const { name, words } = of("type", each.code);
      return {
        ...each,
        name: name ?? each.name,
        group_name: of("group", each.group).name ?? each.group_name,
        words: [...(each.words ?? []), ...(words ?? "").split(";").map((word) => word.trim().toLowerCase())].filter(
          Boolean,
        ),
        own_name: each.name,
        own_group: each.group_name,
      };
    }),
    ...(plant.lines ? { lines: named(plant.lines, "line", "code") } : {}),
    ...(plant.options ? { options: named(plant.options, "option", "code") } : {}),
    ...(plant.severities ? { severities: named(plant.severities, "severity", "code") } : {}),
  };
}

/**
 * What the server says, with names as shown: it calls tests and types by code and the plant's own name, a zone by that
 * name alone, between "in" and the stop or bracket behind it.
 * @param {Plant} plant  in its words
 * @param {string} text
 */
export function withShownNames({ tests, types, zones }, text) {
  const pairs = [...tests.map(({ id, ...each }) => ({ code: id, ...each })), ...types].map(
    ({ code, name, own_name }) => [own_name && `${code} ${own_name}`, `${code} ${name}`],
  );
  for (const { name, own_name } of zones)
    for (const stop of [",", ")"]) pairs.push([own_name && ` in ${own_name}${stop}`, ` in ${name}${stop}`]);
  return pairs.reduce((told, [own, shown]) => (own ? told.replaceAll(own, () => `${shown}`) : told), text);
}
