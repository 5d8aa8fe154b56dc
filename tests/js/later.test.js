import assert from "node:assert/strict";
import test from "node:test";

import { LATER, loadQuietly, notLoaded, openScreen } from "../../pwa/screens/later.js";

test("each screen loaded on demand is the one that its address promises", async () => {
  for (const later of LATER) {
    const screen = await openScreen(later);
    assert.equal(screen.path, later.path);
    assert.equal(!!screen.open, !!later.open, later.path);
  }
});

test("a screen that is here opens without waiting", async () => {
  await loadQuietly();
  for (const later of LATER) assert.ok(!(openScreen(later) instanceof Promise), later.path);
});

test("a screen that cannot be loaded says so and can be asked for again", async () => {
  let tries = 0;
  const later = {
    path: "x",
    load: async () => {
      tries += 1;
      if (tries === 1) throw new TypeError("Failed to fetch");
      return { path: "x", page: () => ({ title: "x", body: "" }) };
    },
  };
  await assert.rejects(async () => openScreen(later), TypeError);
  const told = notLoaded(new TypeError("Failed to <fetch>")).page({
    address: (...parts) => parts.join("/"),
    session: {},
  });
  assert.match(String(told.body), /Failed to &lt;fetch&gt;/);
  assert.match(String(told.actions), /data-act="again"/);
  assert.equal((await openScreen(later)).path, "x");
});
