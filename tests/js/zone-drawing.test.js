// A zone's options and its names in further languages, as the page that draws zones changes and hands them in.

import assert from "node:assert/strict";
import { test } from "node:test";
import { Drawing, withName, withNewNames, withOption } from "../../static/js/zones/drawing.js";

const GAS = { key: "gas", options: [], names: { de: "Gaskasten" } };
const CODES = ["A", "B", "C"];

test("options stand in the plant's order however they are ticked", () => {
  const both = withOption(withOption(GAS, "C", true, CODES), "A", true, CODES);
  assert.deepEqual(both.options, ["A", "C"]);
  assert.deepEqual(withOption(both, "A", false, CODES).options, ["C"]);
});

test("an option ticked and unticked, a name written and taken back, are no change", () => {
  const drawing = new Drawing({ zones: [GAS] });
  const same = withOption(withOption(GAS, "B", true, CODES), "B", false, CODES);
  assert.equal(drawing.keep({ zones: [withName(withName(same, "pl", "x"), "pl", "")] }), false);
  assert.equal(drawing.keep({ zones: [withName(GAS, "de", "Gasfach")] }), true);
  assert.equal(drawing.undo(), true);
  assert.deepEqual(drawing.zones, [GAS]);
});

test("names alone that are others are handed in, one taken away as empty", () => {
  const lamp = { key: "lamp", options: [], names: { pl: "Lampa" } };
  const named = [withName(withName(GAS, "de", ""), "pl", "Gaz"), lamp];
  const told = withNewNames(named, [GAS]).map(({ names }) => names);
  assert.deepEqual(told, [{ de: "", pl: "Gaz" }, { pl: "Lampa" }]);
  assert.deepEqual(withNewNames([GAS], [GAS])[0].names, {});
});
