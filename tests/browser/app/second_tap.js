/* Taps a thing on a screen and tells what came of it; what the phone holds is put back before each story. Runs in the
   page, after the app, on told time (told_time.js). */
(() => {
  const STORES = ["operations", "verdicts", "drafts", "captures", "settings", "units"];
  const UUID = /[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}/g;
  const TOUCHABLE = "button, a[href^='#'], [role=button], summary, label.button";
  const LONG_MS = 10_000; // more than any guard looks back
  const outer = new BroadcastChannel("daybay"); // as another tab of this phone
  const written = new Set(STORES); // since what was kept was put back
  let db, kept, known;

  const ask = (request) =>
    new Promise((resolve, reject) => {
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });
  const whole = (tx) =>
    new Promise((resolve, reject) => {
      tx.oncomplete = resolve;
      tx.onabort = () => reject(tx.error);
    });
  const begin = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (stores, mode, ...more) {
    if (mode === "readwrite" && this !== db) [stores].flat().forEach((name) => written.add(name));
    return begin.call(this, stores, mode, ...more);
  };
  const row = (name, value) => kept.settings[1].find((each) => each.name === name)?.value ?? value;

  async function keep() {
    db = await ask(indexedDB.open("daybay"));
    // The reserve of room is a megabyte that would be read and written at every tap.
    await ask(db.transaction("settings", "readwrite").objectStore("settings").delete("ballast"));
    kept = {};
    for (const name of STORES) {
      const store = db.transaction(name).objectStore(name);
      kept[name] = [await ask(store.getAllKeys()), await ask(store.getAll()), store.keyPath !== null];
    }
    known = new Set(JSON.stringify(kept).match(UUID));
    document.documentElement.style.opacity = "0"; // laid out and touched as ever, but nobody looks: nothing is painted
    await time.settled();
    time.tell();
  }

  async function putBack(person) {
    const tx = db.transaction(STORES, "readwrite");
    for (const name of STORES.filter((each) => written.has(each))) {
      const [keys, values, inline] = kept[name];
      const store = tx.objectStore(name);
      store.clear();
      values.forEach((value, at) => (inline ? store.put(value) : store.put(value, keys[at])));
    }
    tx.objectStore("settings").put({ name: "person", value: person });
    await whole(tx);
    const heeded = time.heeded();
    outer.postMessage("changed");
    await heeded;
    await time.settled();
    written.clear();
  }

  /** Show a screen as it is when it is opened, with what is chosen, typed or pressed there first. */
  async function show({ path, ready, person }) {
    time.leap(LONG_MS);
    if (written.size || person !== shown) await putBack(person);
    shown = person;
    if (location.hash === `#/${path}`) location.hash = path === "find" ? "#/units" : "#/find"; // anywhere else
    await time.settled();
    location.hash = `#/${path}`;
    await time.settled();
    for (const words of ready) await make(words);
    time.leap(LONG_MS);
  }
  let shown = null;

  async function make(words) {
    if (words.startsWith("#")) {
      const [field, value] = words.split("=");
      const input = document.querySelector(field);
      if (!input) throw new Error(`${words} is not on ${location.hash}`);
      input.value = value;
      for (const type of ["input", "change"]) input.dispatchEvent(new Event(type, { bubbles: true }));
    } else {
      const target = touchables().find((each) => named(each).startsWith(words));
      if (!target) throw new Error(`${words} is not on ${location.hash}: ${touchables().map(named)}`);
      time.leap(LONG_MS);
      touch(placeOf(target));
    }
    await time.settled();
  }

  const named = (each) => (each.getAttribute("aria-label") ?? each.textContent).replace(/\s+/g, " ").trim();
  const touchables = () =>
    [...document.querySelectorAll(TOUCHABLE)].filter((each) => !each.disabled && each.getClientRects().length);

  /**
   * The places of what can be touched, in the page's order, and its words; the head's only where asked for. Buttons of
   * one act in one group or list are one handler's (a drawing's zones, a keypad's keys, the answers to a question, the
   * places of origin): the first, the middle and the last stand for all of them, save where every one is asked for.
   */
  function find(head, every) {
    const all = touchables();
    const alike = new Map();
    for (const each of all) {
      const group = each.closest("[role=group], .groups, ul, ol");
      if (!group || !each.dataset.act) continue;
      const acts = alike.get(group) ?? alike.set(group, {}).get(group);
      (acts[each.dataset.act] ??= []).push(each);
    }
    const few = new Set(
      every
        ? []
        : [...alike.values()]
            .flatMap((acts) => Object.values(acts))
            .flatMap((same) => same.filter((_, at) => ![0, same.length >> 1, same.length - 1].includes(at))),
    );
    return all.flatMap((each, place) =>
      (head || !each.closest("header")) && !few.has(each) ? [[place, named(each).slice(0, 50)]] : [],
    );
  }

  function placeOf(target) {
    target.scrollIntoView({ block: "center", behavior: "instant" });
    // On its sign, as a person would: a zone's middle may lie under the zone on top of it.
    const box = (target.querySelector(".sign") ?? target).getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];
  }

  /** Touch what lies at a place now, at the told time; false where the app stopped it before it reached anything. */
  function touch([x, y]) {
    const target = document.elementFromPoint(x, y);
    let reached = true;
    const how = { bubbles: true, cancelable: true, composed: true, view: window, detail: 1, clientX: x, clientY: y };
    const events = [
      new PointerEvent("pointerdown", how),
      new PointerEvent("pointerup", how),
      new MouseEvent("click", how),
    ];
    for (const event of events) {
      Object.defineProperty(event, "timeStamp", { value: time.now() });
      reached = target?.dispatchEvent(event) ?? true;
    }
    return reached;
  }

  /** What came of taps at one place at these times, in ms after the first; reached: which of them were not stopped. */
  async function tapped(screen, [place, words], times, settling = true) {
    await show(screen);
    const shown = await outcome();
    await time.settled();
    const target = touchables()[place];
    if (!target || (!named(target).startsWith(words) && !target.matches("summary"))) {
      // a caution is folded once seen
      throw new Error(`${words} is not thing ${place} on ${location.hash}: ${touchables().map(named)}`);
    }
    const [x, y] = placeOf(target);
    let before = 0;
    const reached = [];
    for (const at of times) {
      await time.pass(at - before, settling);
      before = at;
      if (touch([x, y])) reached.push(at);
      if (settling) await time.settled();
    }
    await time.settled();
    return { reached, shown, outcome: await outcome(target.dataset.step) };
  }

  /** A step to the next view is there to be taken again and again: where it leads to is not told. */
  async function outcome(step) {
    const told = (value) => JSON.stringify(value).replace(UUID, (id) => (known.has(id) ? id : "new"));
    const tx = db.transaction(["operations", "drafts", "settings", "verdicts"]);
    const all = (name) => ask(tx.objectStore(name).getAll());
    const [operations, drafts, settings, verdicts] = await Promise.all(
      ["operations", "drafts", "settings", "verdicts"].map(all),
    );
    const made = operations.slice(kept.operations[1].length).map(({ op }) => told([op.kind, op.unit, op.body]));
    const person = settings.find((each) => each.name === "person")?.value;
    const settled = verdicts.filter((each) => each.settled).length;
    return {
      made,
      drafts: drafts.map(({ unit, zone, type }) => [unit, zone, type].join(" ")),
      at: step ? "" : told(location.hash),
      person,
      settled,
    };
  }

  /** A server that is there and takes nothing: signs in whom it is asked for, and is out of order for the rest. */
  function answer(url, how) {
    const path = String(url).split("/api/v1/")[1];
    const say = (status, data) =>
      new Response(JSON.stringify(data), { status, headers: { "Content-Type": "application/json" } });
    const asked = typeof how?.body === "string" ? JSON.parse(how.body) : {};
    const people = row("people", []).map((each) => ({ stations: [], ...each }));
    if (path === "people") return say(200, people);
    if (path === "ping")
      return say(200, { nonce: asked.nonce, server_now: Date.now(), server_epoch: row("server_epoch", "") });
    if (path === "sign-in") {
      const person = people.find((each) => each.code === asked.person);
      return say(200, {
        person,
        token: "told",
        session: "told",
        ends_ms: Date.now() + 3_600_000,
        device: row("device", ""),
      });
    }
    return say(503, { error: { code: "out_of_order", message: "out of order" } });
  }

  window.taps = {
    keep,
    find,
    async found(screen, head, every) {
      await show(screen);
      return find(head, every);
    },
    /**
     * What there was before it, what came of one tap, and of later ones where it is not the same: a row of taps at all
     * the gaps, settled between
     * and on a phone that does nothing between; and one at each gap alone. A tap that was stopped leaves nothing
     * behind,
     * so the one after it in the row stands alone already.
     */
    async compared(screen, thing, gaps) {
      const { outcome: once, shown } = await tapped(screen, thing, [0]);
      const others = [];
      const compare = (how, { outcome }) => {
        if (JSON.stringify(outcome) !== JSON.stringify(once)) others.push([how, outcome]);
      };
      const row = await tapped(screen, thing, [0, ...gaps]);
      compare("row", row);
      compare("stalled", await tapped(screen, thing, [0, ...gaps], false));
      const alone = gaps.filter((gap) => gap > row.reached[1]);
      for (const gap of alone) compare(gap, await tapped(screen, thing, [0, gap]));
      return { shown, once, others, alone: alone.length };
    },
  };
  time.answer = answer;
})();
