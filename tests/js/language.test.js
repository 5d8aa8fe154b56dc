import assert from "node:assert/strict";
import test from "node:test";

import { html } from "../../pwa/lib/html.js";
import { counted, language, listOf, number, sentencesOf, speak, t, told } from "../../pwa/lib/language.js";

const WORDS = {
  "{0} of {1} looked at": "von {1} angesehen: {0}",
  "Open list: {0}": "Offene Liste: {0}",
  "{0} days": { one: "1 Tag", other: "{0} Tage" },
  "<strong>Stop</strong> work": "Arbeit <strong>anhalten</strong>",
  "PIN, to sign": "PIN zum Unterschreiben",
};

/** @param {() => void} said */
function inGerman(said) {
  speak("de", WORDS);
  try {
    said();
  } finally {
    speak("en", {});
  }
}

test("English needs no catalogue, and what a catalogue lacks is said in English", () => {
  assert.equal(t`${3} of ${7} looked at`, "3 of 7 looked at");
  assert.equal(counted(1, "1 day", "{0} days"), "1 day");
  inGerman(() => assert.equal(t`nobody knows ${1}`, "nobody knows 1"));
});

test("a language puts the values where its own sentence has them", () => {
  inGerman(() => assert.equal(t`${3} of ${7} looked at`, "von 7 angesehen: 3"));
  assert.equal(t`${3} of ${7} looked at`, "3 of 7 looked at");
});

test("markup is worded between its elements, white space and values kept, emphasis within its sentence", () => {
  // prettier-ignore
  const page = (/** @type {number} */ count) => html`<h2>
    Open list:   ${count}
  </h2><p><strong>Stop</strong> work</p>`.text;
  assert.equal(page(2), "<h2>\n    Open list:   2\n  </h2><p><strong>Stop</strong> work</p>");
  inGerman(() => assert.equal(page(2), "<h2>\n    Offene Liste: 2\n  </h2><p>Arbeit <strong>anhalten</strong></p>"));
});

test("what a program is told by is worded too, and no other attribute", () => {
  // prettier-ignore
  inGerman(() => assert.equal(html`<i data-x="PIN, to sign" aria-label="PIN, to sign"></i>`.text, '<i data-x="PIN, to sign" aria-label="PIN zum Unterschreiben"></i>'));
});

test("a value in a worded sentence is never markup", () => {
  inGerman(() => assert.equal(html`<h2>Open list: ${"<b>"}</h2>`.text, "<h2>Offene Liste: &lt;b&gt;</h2>"));
});

test("a count takes the form of its language, a number its sign", () => {
  inGerman(() => {
    assert.deepEqual(
      [1, 2, 0].map((count) => counted(count, "1 day", "{0} days")),
      ["1 Tag", "2 Tage", "0 Tage"],
    );
    assert.equal(number(12.5), "12,5");
    assert.equal(number(12345), "12345");
    assert.equal(listOf(["a", "b", "c"]), "a, b und c");
    assert.equal(language(), "de");
  });
  assert.equal(number(12.5), "12.5");
  assert.equal(language(), "en-GB");
});

test("the sentences of a template are what is looked up", () => {
  assert.deepEqual(
    sentencesOf(["<p class='x'>\n  Open\n list: ", '</p><input placeholder="PIN, to sign" value="', '" />'], true),
    ["Open list: {0}", "PIN, to sign"],
  );
});

test("what the server said is known again by its form, and what stands at its places too", () => {
  const server = {
    "not tested": "nicht geprüft",
    "{0} repaired this; another must look": "{0} hat repariert; jemand anders sieht nach",
    "{0} failed with {1}; {2}": "{0} mit {1} nicht bestanden; {2}",
    "try again": "noch einmal",
  };
  const all = [
    "G1 Gas: not tested",
    "R1 repaired this; another must look",
    "Try again.",
    "G1 failed with >12.5 mbar; try again",
  ];
  all.push("nobody knows this", "not tested; try again", "a note (.*) with $1");
  assert.deepEqual(all.map(told), all);
  speak("de", {}, server);
  try {
    assert.deepEqual(all.map(told), [
      "G1 Gas: nicht geprüft",
      "R1 hat repariert; jemand anders sieht nach",
      "Noch einmal.",
      "G1 mit >12,5 mbar nicht bestanden; noch einmal",
      "nobody knows this",
      "nicht geprüft; noch einmal",
      "a note (.*) with $1",
    ]);
  } finally {
    speak("en", {});
  }
});
