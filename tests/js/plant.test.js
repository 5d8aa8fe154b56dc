import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

import { axis, holds, layOut } from "../../pwa/lib/drawing.js";
import { MOST_IN_VIEW, history, inView, oftenFound, typesForZone } from "../../pwa/lib/likely.js";
import {
  cautionsAt,
  cautionsFor,
  isWithin,
  limitWords,
  movesAway,
  optionNames,
  originsOf,
  outlinesOf,
  photoGuard,
  testsOf,
  toldOf,
  typeOf,
  typesOf,
  viewsOf,
  wholeUnitZone,
  zoneOf,
  zoneWords,
  zonesOf,
} from "../../pwa/lib/plant.js";
import { isOneSlip, searchTypes } from "../../pwa/lib/type-search.js";
import { looksAt } from "../../pwa/screens/looked.js";
import { nameLines } from "../../pwa/screens/zone-map.js";

const path = process.env.DAYBAY_PLANT;
assert.ok(path, "DAYBAY_PLANT must name the plant as the server sends it; run through pytest tests/js");
const plant = JSON.parse(readFileSync(path, "utf8"));
const models = plant.models.map((/** @type {any} */ model) => model.code);

// A phone 390 px wide and 844 px high leaves about this for the drawing.
const ROOM = { width: 358, height: 420 };
const THUMB = 64;
const STRIP = 44;

for (const model of models) {
  for (const view of viewsOf(plant, built(model))) {
    test(`${model} ${view.id}: every zone is at least a thumb wide and high and fits the screen`, () => {
      const map = layOut(zonesOf(plant, built(model), view.id), ROOM.width, ROOM.height, THUMB);

      assert.ok(map.width <= ROOM.width + 1, `width ${map.width}`);
      for (const { zone, points, label } of map.drawn) {
        const sides = [0, 1].map(
          (side) => Math.max(...points.map((point) => point[side])) - Math.min(...points.map((point) => point[side])),
        );
        assert.ok(Math.min(...sides) >= THUMB - 0.5, `${zone.key} is ${sides.map(Math.round)}`);
        assert.ok(
          Math.min(label.width, label.height) >= STRIP,
          `${zone.key} has ${Math.round(label.width)} × ${Math.round(label.height)} free`,
        );
      }
    });
  }
}

test("what is ended is offered for nothing new and still named where it was recorded", () => {
  const model = plant.models[0].code;
  const [zone, type, test] = [
    zonesOf(plant, built(model))[0],
    typesOf(plant, model)[0],
    testsOf(plant, built(model))[0],
  ];
  const mark = (/** @type {any[]} */ all, /** @type {any} */ one) =>
    all.map((each) => (each === one ? { ...each, ended: true } : each));
  const later = {
    ...plant,
    zones: mark(plant.zones, zone),
    types: mark(plant.types, type),
    tests: mark(plant.tests, test),
  };

  assert.equal(zonesOf(later, built(model)).length, zonesOf(plant, built(model)).length - 1);
  assert.equal(typesOf(later, model).length, typesOf(plant, model).length - 1);
  assert.equal(testsOf(later, built(model)).length, testsOf(plant, built(model)).length - 1);
  assert.equal(zoneWords(later, model, zone.key), zoneWords(plant, model, zone.key));
  assert.equal(typeOf(later, type.code)?.name, type.name);
});

test("a touch on the drawing gives back the place in millimetres", () => {
  const zones = zonesOf(plant, built("T36"), "front");
  const map = layOut(zones, ROOM.width, ROOM.height, THUMB);
  for (const { zone, points } of map.drawn) {
    points.forEach(([x, y], place) => assert.deepEqual(map.mark(x, y), zone.points[place], zone.key));
  }
});

test("an axis keeps order and neighbourhood", () => {
  const made = axis(
    [
      { span: [0, 1000], least: 64 },
      { span: [0, 10], least: 64 },
      { span: [990, 1000], least: 64 },
    ],
    300,
  );

  assert.ok(Math.abs(made.length - 300) < 1);
  assert.ok(made.at(10) >= 63.9 && made.at(990) <= 300 - 63.9);
  assert.ok(made.at(5) < made.at(10) && made.at(500) > made.at(10));
});

test("holds tells inside from outside of an L-shaped outline", () => {
  const shape = /** @type {[number, number][]} */ ([
    [0, 0],
    [4, 0],
    [4, 4],
    [2, 4],
    [2, 2],
    [0, 2],
  ]);

  assert.deepEqual(
    [
      [1, 1],
      [3, 3],
      [1, 3],
      [5, 1],
    ].map((point) => holds(shape, /** @type {any} */ (point))),
    [true, true, false, false],
  );
});

test("the walk begins at the coupling, goes front, nearside, rear, offside, roof, underside, inside", () => {
  // Order of the walk-round: common practice, no source.
  assert.deepEqual(
    viewsOf(plant, built("M50"))
      .slice(0, 7)
      .map((view) => view.id),
    ["front", "nearside", "rear", "offside", "roof", "underside", "interior"],
  );
  assert.equal(zonesOf(plant, built("M50"))[0].key, "front.coupling");
});

test("at most nine types are in view and none of a zone's critical ones is left out", () => {
  for (const model of models) {
    for (const zone of zonesOf(plant, built(model))) {
      const all = typesForZone(plant, zone, new Map());
      const shown = inView(all);
      assert.ok(all.length >= 1, `${model} ${zone.key} has no type`);
      assert.ok(shown.length <= MOST_IN_VIEW);
      const critical = all.filter((type) => type.severity === "critical");
      assert.ok(
        critical.every((type) => shown.includes(type)),
        zone.key,
      );
    }
  }
});

test("what was found in this zone before comes first, then what was found in its kind", () => {
  const zone = /** @type {any} */ (zoneOf(plant, "T36", "front.panel"));
  const defect = (/** @type {string} */ type, /** @type {string} */ at, state = "open") => ({ type, zone: at, state });
  const units = [
    {
      model: "T36",
      defects: [
        defect("EXT-03", "front.panel"),
        defect("EXT-01", "front.cap"),
        defect("PAN-06", "front.panel", "withdrawn"),
      ],
    },
  ];

  const codes = typesForZone(plant, zone, history(plant, units)).map((type) => type.code);

  assert.deepEqual(codes.slice(0, 2), ["EXT-03", "EXT-01"]);
  assert.equal(codes[2], "PAN-01");
});

test("plain words find the type", () => {
  const found = (/** @type {string} */ said) => searchTypes(typesOf(plant, "T36"), said).map((type) => type.code);

  assert.equal(found("trim loose")[0], "EXT-01");
  assert.ok(found("scuff").includes("PAN-03"));
  assert.ok(found("dripping tap").includes("WAT-03") || found("drip").includes("WAT-01"));
  assert.ok(found("drawer stuck").includes("FUR-01"));
  assert.equal(found("fur-02")[0], "FUR-02");
  assert.deepEqual(found("zzz"), []);
  assert.deepEqual(found(" "), []);
});

test("letters beyond ASCII are found as they are typed, with a mark or without", () => {
  const type = (/** @type {string} */ code, /** @type {string} */ name, words = /** @type {string[]} */ ([])) =>
    /** @type {any} */ ({ code, name, group_name: "Öffnungen", words });
  const types = [
    type("T-1", "Tür klemmt", ["spalt"]),
    type("T-2", "Fuß gebrochen", ["łódź"]),
    type("T-3", "Château rayé", ["größe"]),
  ];
  const found = (/** @type {string} */ said) => searchTypes(types, said).map((each) => each.code);

  for (const said of ["Tür", "TÜR", "tur", "tuer", "Tu\u0308r", "spalt"]) assert.deepEqual(found(said), ["T-1"], said);
  for (const said of ["fuß", "FUSS", "fuss", "lodz", "Łódź"]) assert.deepEqual(found(said), ["T-2"], said);
  for (const said of ["chateau", "RAYE", "grosse", "groesse", "größe"]) assert.deepEqual(found(said), ["T-3"], said);
  assert.deepEqual(found("offnungen").length, 3);
  assert.deepEqual(found("oeffnungen").length, 3);
});

test("more zones than the record takes at once go in several facts, and none is lost", () => {
  const keys = Array.from({ length: 250 }, (_, place) => `side.z${place}`);

  assert.deepEqual(looksAt(keys).flat(), keys);
  assert.deepEqual(
    looksAt(keys).map((some) => some.length),
    [100, 100, 50],
  );
  assert.deepEqual(looksAt(["one"]), [["one"]]);
});

test("everyday words and one slip of a gloved finger find the type too", () => {
  const found = (/** @type {string} */ said) => searchTypes(typesOf(plant, "T36"), said).map((type) => type.code);

  for (const [said, code] of [
    ["hole", "PAN-04"],
    ["crack", "PAN-03"],
    ["bent", "OPE-01"],
    ["mould", "SEA-05"],
  ])
    assert.ok(found(said).includes(code), said);
  for (const [said, code] of [
    ["scrtach", "PAN-03"],
    ["scrach", "PAN-03"],
    ["mouls", "SEA-05"],
    ["tyrre", "CHS-07"],
    ["panrl", "PAN-01"],
  ])
    assert.ok(found(said).includes(code), said);
  // A word that is there is not taken for another.
  assert.ok(found("leak").every((code) => !found("lock").includes(code)));
  assert.deepEqual(
    ["abcd", "abdc", "abc", "abbcd"].map((each) => isOneSlip(each, "abcd")),
    [true, true, true, true],
  );
  assert.deepEqual(
    ["badc", "xbcx"].map((each) => isOneSlip(each, "abcd")),
    [false, false],
  );
});

test("only what is upstream is offered as origin, the usual first, and the unknown has its own button", () => {
  const origins = originsOf(plant, "T01", built("M50"), "GAS-01").map((station) => station.id);

  assert.equal(origins[0], "S06");
  assert.ok(
    !origins.includes("D01") && !origins.includes("T02") && !origins.includes("X01") && !origins.includes("UNK"),
  );
  assert.ok(origins.includes("SUP") && origins.includes("HND") && origins.includes("R01") && origins.includes("DSN"));
});

test("limits are inside, open sides do not count, and read in words", () => {
  const of = (/** @type {string} */ id) => testsOf(plant, built("T36")).find((each) => each.id === id);
  const charger = /** @type {any} */ (of("E1"));
  const gas = /** @type {any} */ (of("G1"));

  assert.deepEqual(
    [13.4, 14.6, 13.39, 14.61].map((value) => isWithin(charger, value)),
    [true, true, false, false],
  );
  assert.deepEqual([limitWords(charger), limitWords(gas)], ["13.4 to 14.6 V", "at most 10 mbar"]);
  assert.ok(isWithin(gas, -5));
});

test("a zone is read back with its view, the whole unit has its zone", () => {
  assert.equal(zoneWords(plant, "T36", "nearside.door"), "Entry door · Nearside");
  assert.ok(wholeUnitZone(plant, built("T36")));
});

test("names on the drawing break at spaces and tell what is left out", () => {
  assert.deepEqual(nameLines("Rear bar, number plate", 400, 1), ["Rear bar, number plate"]);
  assert.deepEqual(nameLines("Lower wall, middle", 80, 3), ["Lower", "wall,", "middle"]);
  assert.deepEqual(nameLines("Rear bar, number plate", 60, 1), []); // half a name is another name
  assert.deepEqual(nameLines("Underside", 20, 2), []);
});

/** @param {string} type @param {string} zone */
const carried = (type, zone) => cautionsFor(zoneOf(plant, "T36", zone), typeOf(plant, type));

test("a defect carries the caution of its work and of its place, each once", () => {
  assert.deepEqual(carried("GAS-01", "front.gas"), ["GAS"]);
  assert.deepEqual(carried("GAS-02", "under.rear"), ["GAS", "UND"]);
  assert.deepEqual(carried("PAN-01", "front.panel"), []);
});

test("what the tables do not say is the general caution, asks before a photo and moves away", () => {
  const { caution: _, ...unsaid } = typeOf(plant, "PAN-01");
  const bare = {
    ...plant,
    cautions: plant.cautions.map((/** @type {any} */ { code, short, more }) => ({ code, short, more })),
  };

  assert.deepEqual(cautionsFor(undefined, unsaid), [null]);
  assert.deepEqual(cautionsFor(undefined, { ...unsaid, caution: null }), [null]);
  assert.deepEqual(cautionsFor(undefined, undefined), [null], "a type that is on the list no more");
  assert.deepEqual(photoGuard(plant, [null]).asks.length, 1);
  assert.ok(movesAway(plant, [null]));
  assert.deepEqual(photoGuard(bare, ["GAS"]).asks.length, 1);
  assert.ok(movesAway(bare, ["ELE"]));
  assert.deepEqual(cautionsAt(bare, "begin"), [null], "an older server does not say where a caution shows");
  assert.deepEqual(cautionsAt(plant, "begin"), ["MOV", "SUN"]);
});

test("the strictest caution guards a photo, and each names who is told", () => {
  const cautions = [
    { code: "BURNS", camera: "ask", before_photo: "I smell nothing", move_away: true, call: "the brigade", phone: "" },
    { code: "LIVE", camera: "no", before_photo: "", move_away: false, call: "", phone: "12" },
    { code: "MILD", camera: "free", before_photo: "", move_away: false, call: "", phone: "" },
  ];
  const other = { ...plant, cautions, stop_who: "the foreman", stop_phone: "99" };

  assert.deepEqual(photoGuard(other, ["BURNS", "LIVE"]), {
    forbids: "LIVE",
    asks: ["I smell nothing", "I have checked that a camera is safe here"],
  });
  assert.deepEqual(photoGuard(other, ["MILD"]), { forbids: "", asks: [] });
  assert.equal(movesAway(other, ["LIVE", "MILD"]), false);
  assert.deepEqual(toldOf(other, ["MILD"]), [{ who: "the foreman", phone: "99" }]);
  assert.deepEqual(toldOf(other, ["BURNS", "LIVE"]), [
    { who: "the brigade", phone: "" },
    { who: "the foreman", phone: "12" },
  ]);
});

for (const model of models) {
  test(`${model}: what stands out beyond the zones stays on the drawing, and no zone gets too small for it`, () => {
    for (const view of viewsOf(plant, built(model))) {
      const outlines = outlinesOf(plant, model, view.id);
      const map = layOut(zonesOf(plant, built(model), view.id), ROOM.width, ROOM.height, THUMB, outlines);
      const places = outlines.flatMap((each) => each.points.map(map.place));
      assert.ok(outlines.length >= 2, view.id);
      for (const [x, y] of places)
        assert.ok(x >= -0.01 && x <= map.width + 0.01 && y >= -0.01 && y <= map.height + 0.01, `${view.id} ${x} ${y}`);
      for (const { zone, points } of map.drawn) {
        const wide = Math.max(...points.map(([x]) => x)) - Math.min(...points.map(([x]) => x));
        assert.ok(wide > THUMB - 0.5, `${zone.key} ${wide}`);
        const [x, y] = map.place([zone.points[0][0], zone.points[0][1]]);
        assert.deepEqual(map.mark(x, y), zone.points[0]); // a touch is kept where it was
      }
    }
  });
}

test("zones to look at twice are those with twice the mean of the model's zones, and never all of them", () => {
  const zones = plant.zones.filter((zone) => zone.model === "M50");
  const [worst, next] = zones;
  const found = (/** @type {[string, number][]} */ ...each) => new Map(each);
  const evenly = found(...zones.map((zone) => /** @type {[string, number]} */ ([`SEA-01 ${zone.key}`, 5])));

  assert.deepEqual([...oftenFound(zones, evenly)], []);
  evenly.set(`FUR-01 ${worst.key}`, 6);
  assert.deepEqual([...oftenFound(zones, evenly)], [worst.key]);
  assert.deepEqual([...oftenFound(zones, found([`SEA-01 ${next.key}`, 2]))], []);
  assert.deepEqual([...oftenFound(zones, found([`SEA-01 ${next.key}`, 2], [`FUR-01 ${next.key}`, 1]))], [next.key]);
  assert.deepEqual([...oftenFound(zones, found(["SEA-01 panel", 50], ["SEA-01 elsewhere", 50]))], []);
});

/** @param {string} model */
function built(model, options = /** @type {string[]} */ ([])) {
  return { model, options };
}

test("a unit has the zones and tests of its options, and one without them has not", () => {
  const [zone, asked] = [zonesOf(plant, built("T36"))[0], testsOf(plant, built("T36"))[0]];
  const with_option = {
    ...plant,
    zones: plant.zones.map((each) => (each === zone ? { ...each, options: ["Küche", "Bad"] } : each)),
    tests: plant.tests.map((each) => (each === asked ? { ...each, options: ["Küche"] } : each)),
  };
  const keys = (/** @type {string[]} */ options) => zonesOf(with_option, built("T36", options)).map(({ key }) => key);
  const ids = (/** @type {string[]} */ options) => testsOf(with_option, built("T36", options)).map(({ id }) => id);

  assert.ok(!keys([]).includes(zone.key) && !ids([]).includes(asked.id));
  assert.ok(!keys(["awning"]).includes(zone.key));
  assert.ok(keys(["awning", "Bad"]).includes(zone.key) && !ids(["Bad"]).includes(asked.id));
  assert.ok(ids(["Küche"]).includes(asked.id));
});

test("a unit's options are told by name, one that the plant does not name by its code", () => {
  const named = { ...plant, options: [{ code: "K1", name: "Küchenzeile" }] };

  assert.equal(optionNames(named, built("T36", ["K1", "awning"])), "Küchenzeile, awning");
  assert.equal(optionNames(plant, built("T36", ["K1"])), "K1");
  assert.equal(optionNames(null, built("T36")), "");
});
