import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { speak } from "../../pwa/lib/language.js";
import { inOwnWords, withShownNames } from "../../pwa/lib/plant-names.js";
import { searchTypes } from "../../pwa/lib/type-search.js";

const PLANT = JSON.parse(readFileSync(process.env.DAYBAY_PLANT ?? "", "utf8"));

/**
 * @param {string} tag
 * @param {() => void} said
 */
function speaking(tag, said) {
  speak(tag, {});
  try {
    said();
  } finally {
    speak("en", {});
  }
}

test("the plant's names are those of the language spoken, its codes stay", () => {
  assert.equal(inOwnWords(PLANT), PLANT);
  speaking("de", () => {
    const plant = inOwnWords(PLANT);
    const zone = plant.zones.find((each) => each.key === "front.gas");
    assert.deepEqual([zone?.name, zone?.own_name, zone?.points.length], ["Gaskasten", "Gas locker", 4]);
    assert.equal(plant.types.find((each) => each.code === "GAS-01")?.group_name, "Gas");
    assert.equal(withShownNames(plant, "C2a Tyre pressure: not tested"), "C2a Reifendruck: not tested");
    assert.equal(
      withShownNames(plant, "A critical (C2a Tyre pressure in Gas locker, by T$&1) in Gas locker 2"),
      "A critical (C2a Reifendruck in Gaskasten, by T$&1) in Gas locker 2",
    );
    assert.match(plant.standing_line, /^Es gelten/);
    assert.deepEqual(
      plant.types.map((each) => each.code),
      PLANT.types.map((/** @type {{code: string}} */ each) => each.code),
    );
  });
});

test("an option is named in the language spoken, and has its code", () => {
  const own = {
    ...PLANT,
    options: [{ code: "K1", name: "Kitchen" }],
    names: { de: { option: { K1: { name: "Küche" } } } },
  };
  speaking("de", () => assert.deepEqual(inOwnWords(own).options, [{ code: "K1", name: "Küche" }]));
});

test("a region takes its language's names, another language and what lacks a name the plant's own", () => {
  speaking("de-AT", () => assert.equal(inOwnWords(PLANT).views[0].name, "Front, von vorn gesehen"));
  speaking("pl", () => assert.equal(inOwnWords(PLANT), PLANT));
  const some = { ...PLANT, names: { de: { zone: { "front.gas": { name: "Gaskasten" } } } } };
  speaking("de", () => assert.equal(inOwnWords(some).tests[0].name, PLANT.tests[0].name));
  speaking("de", () => assert.equal(inOwnWords({ ...PLANT, names: undefined }).views[0].name, PLANT.views[0].name));
});

test("a type is found in both tongues", () => {
  speaking("de", () => {
    const { types } = inOwnWords(PLANT);
    for (const said of ["Schutzleiter", "protective conductor", "MNS-04"])
      assert.equal(searchTypes(types, said)[0]?.code, "MNS-04", said);
  });
});
