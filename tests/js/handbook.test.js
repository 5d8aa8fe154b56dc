import assert from "node:assert/strict";
import test from "node:test";

import { sections } from "../../pwa/lib/handbook.js";

const WRITTEN = `<h1>Title</h1>
<p>First.</p>
<h2 id="day">The day</h2>
<p><a href="/help/lead#station">lead</a>, <a href="/help/lead">lead</a>, <a href="/plan">plan</a></p>
<h2 id="re-looks">More</h2>
<figure><img src="pictures/walk.webp" alt="x"></figure>
`;

test("a page is parted at its headings and loses its title, which the head says", () => {
  const parts = sections(WRITTEN, "/s/handbook/");

  assert.deepEqual(
    parts.map(({ anchor }) => anchor),
    ["", "day", "re-looks"],
  );
  assert.equal(parts[0].text.text, "<p>First.</p>\n");
});

test("its links to other pages are keys of the app, those to a desk's pages are words, its pictures are found", () => {
  const [, day, more] = sections(WRITTEN, "/s/handbook/").map(({ text }) => text.text);

  assert.deepEqual(
    [...day.matchAll(/href="([^"]+)"/g)].map(([, to]) => to),
    ["#/help/lead/station", "#/help/lead/day"],
  );
  assert.ok(day.includes(">lead</a>, <a"));
  assert.ok(day.includes("<strong>plan</strong>"));
  assert.ok(more.includes('<img src="/s/handbook/pictures/walk.webp"'));
});
