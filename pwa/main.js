/** Starts the app: the disk, the screens, the service worker, and the rounds of sync. */

import { openDatabase } from "./lib/db.js";
import { lacking } from "./lib/door.js";
import { html } from "./lib/html.js";
import { t } from "./lib/language.js";
import { speakHere } from "./lib/spoken.js";
import { askToKeep, freeBytes, isServed, watchWorker } from "./lib/platform.js";
import { has, roleWords, rolesOf } from "./lib/roles.js";
import { address, match } from "./lib/router.js";
import { opensOn, present } from "./lib/session.js";
import { tapGuard, touchableAt, touchablesNear, whatIs } from "./lib/second-tap.js";
import { layBallast, loadSettings } from "./lib/settings.js";
import { inFront } from "./lib/front.js";
import { formAt, keepForm, newApp, refusedOf, reload, serverNow, setSettings, wordPlant } from "./lib/state.js";
import { syncLoop } from "./lib/sync-loop.js";
import { draftScreen } from "./screens/draft.js";
import { findScreen } from "./screens/find.js";
import { drawHead, drawNotice, drawPage } from "./screens/frame.js";
import { LATER, loadQuietly, loadTeller, notLoaded, openScreen, pictures } from "./screens/later.js";
import { showPictures } from "./screens/photos.js";
import { stopScreen } from "./screens/stop.js";
import { unitsScreen } from "./screens/units.js";
import { walkScreen } from "./screens/walk.js";
import { zoneScreen } from "./screens/zone.js";
import { pictured } from "./screens/zone-map.js";

/** @import {Context, Notice, Screen, WorkerControl} from "./lib/shapes" */

/** @type {Screen[]} */
const SCREENS = [unitsScreen, findScreen, walkScreen, zoneScreen, draftScreen, stopScreen];
const SIGN_IN = LATER[0];

const HEAD_MS = 20_000;
const LEAVING_MS = 1000;
const EARLY_MS = 400;

const lacks = lacking(globalThis);
if (lacks.length) {
  await speakHere();
  tellLacks();
  await new Promise(() => {}); // nothing below may begin
}

const db = await openDatabase();
const settings = await loadSettings(db);
await speakHere(settings);
const app = newApp(db, settings);
const channel = new BroadcastChannel("daybay");

const syncSoon = syncLoop(app, {
  begun: () => drawHeadAlone(),
  ended(wasHere) {
    if (wasHere) channel.postMessage("changed");
    const refused = refusedOf(app).length;
    if (refused > refusedBefore) tellBy("refused");
    refusedBefore = refused;
    tellRoles();
    drawIfLive();
    void takePictures().catch(failed);
    void freeBytes()
      .then((free_bytes) => (app.storage = { ...app.storage, free_bytes }))
      .catch(failed);
  },
  failed,
});

/** What somebody may do has changed while they were signed in: said once, where they are. */
function tellRoles() {
  const me = present(app.settings)?.person;
  const now = [me?.code, ...rolesOf(me)];
  if (now[0] === rolesBefore[0] && `${now}` !== `${rolesBefore}`)
    context().say({ text: t`Your roles have changed, now: ${roleWords(me)}. What you recorded before is kept.` });
  rolesBefore = now;
}

/** After a round, since no record needs them: the pictures that lie under the zones. */
async function takePictures() {
  const named = app.plant?.pictures;
  const session = present(app.settings);
  if (!named || !session || !app.sync.online) return;
  if (await pictures((each) => each.keepPictures(named, session.token))) drawIfLive();
}

/** At the door, before anything is kept. */
function tellLacks() {
  const page = {
    title: t`This browser cannot run the app`,
    body: html`<p class="strong">It lacks ${lacking(globalThis).join("; ")}. Nothing was kept on this phone.</p>
      <p>Bring the browser up to date, or use another phone. Until then write on the paper sheet.</p>`,
  };
  document.querySelector("h1")?.replaceChildren(page.title);
  drawPage(page, null);
}

/** @param {"saved" | "refused"} what */
function tellBy(what) {
  const how = app.settings.told_by;
  if (how !== "eye")
    void loadTeller()
      .then((tell) => tell(how, what))
      .catch(failed);
}

/** @type {Screen} */
let screen = { path: "", page: () => ({ title: "Daybay", body: html`` }) };
let before = ""; // the path of the screen shown last that is no menu and no help
let opening = 0;
let refusedBefore = 0;
/** @type {(string | undefined)[]} */
let rolesBefore = [];
let leftAt = -Infinity;
/** @type {Set<string>} */
const running = new Set();
const admits = tapGuard();
/** @type {Record<string, string>} */
let params = {};
/** @type {Record<string, any>} */
let view = {};
/** @type {Notice | null} */
let notice = null;
let noticeIsNew = false;
/** @type {Set<string>} */
let cautionsShown = new Set();
let touching = false;
let drawAfterTouch = false;
let lifting = 0;
/** @type {Promise<void>} */
let typed = Promise.resolve();
/** @type {WorkerControl} */
let worker = { activate() {}, async check() {} };

/** @returns {Context} */
function context() {
  const session = present(app.settings);
  const at = location.hash;
  // A save that ends after the person went elsewhere must not pull them back.
  const ifHere = (/** @type {() => void} */ leave) => location.hash === at && leave();
  const leave = () => void (leftAt = performance.now());
  const to = (/** @type {string} */ hash, /** @type {(hash: string) => void} */ how) =>
    ifHere(() => {
      if (screen.keeps) void keepForm(app, at, null).catch(failed); // a form leaves its own page only once it is saved
      if (hash === at) return route();
      leave();
      return how(hash);
    });
  return {
    app,
    params,
    view,
    address,
    session,
    worker,
    before,
    go: (...parts) => void to(address(...parts), (hash) => (location.hash = hash)),
    replace: (...parts) => void to(address(...parts), (hash) => location.replace(hash)),
    back: () => void ifHere(() => (leave(), history.back())),
    redraw: draw,
    say(told) {
      notice = told;
      noticeIsNew = true;
      drawNotice(notice);
      if (told.shape === "saved") tellBy("saved");
    },
    sync: (why) => syncSoon(why === "button"),
    sees,
    now: () => serverNow(app),
    may_record: !!session && app.worker.active,
    may: (kind) =>
      !!session && app.worker.active && has(session.person, ...(app.plant?.roles?.[kind] ?? rolesOf(session.person))),
  };
}

/**
 * Whether a caution was shown before in this sign-in; that it is shown now counts from the next address on.
 * @param {string} code
 */
function sees(code) {
  const session = present(app.settings);
  cautionsShown.add(code);
  return !!session && (app.settings.cautions_seen[session.session] ?? []).includes(code);
}

function noteCautions() {
  const session = present(app.settings);
  const shown = cautionsShown;
  cautionsShown = new Set();
  if (!session || !shown.size) return;
  const before = app.settings.cautions_seen[session.session] ?? [];
  const now = [...new Set([...before, ...shown])];
  // Only the present sign-in is kept: a new shift sees every caution again.
  if (now.length === before.length) return;
  app.settings.cautions_seen = { [session.session]: now };
  void setSettings(app, { cautions_seen: app.settings.cautions_seen }).catch(failed);
}

function draw() {
  const coming = speakHere(app.settings);
  if (coming) void coming.then(draw).catch(failed);
  wordPlant(app);
  document.documentElement.dataset.theme = app.settings.theme;
  document.documentElement.dataset.targets = app.settings.targets;
  document.documentElement.dataset.hand = app.settings.hand;
  const focused = document.activeElement?.id;
  const selection = document.activeElement instanceof HTMLInputElement ? document.activeElement.selectionStart : null;
  const main = document.querySelector("main");
  const scrolled = main?.scrollTop ?? 0;
  const shown = screen.page(context());
  drawHead(context(), shown);
  drawPage(shown, notice);
  if (main) main.scrollTop = scrolled;
  if (focused) takeUpFocus(focused, selection);
  void showPictures(app);
  const laid = pictured();
  if (laid) void pictures((each) => each.lay(laid)).catch(failed);
}

/**
 * @param {string} id
 * @param {number | null} selection
 */
function takeUpFocus(id, selection) {
  const element = document.getElementById(id);
  element?.focus({ preventScroll: true });
  if (element instanceof HTMLInputElement && selection !== null && ["text", "password"].includes(element.type)) {
    element.setSelectionRange(selection, selection);
  }
}

/** Show the screen that the address names; one that is here already is shown at once. */
function route() {
  noteCautions();
  const wanted = location.hash.replace(/^#\//, "") || opensOn(present(app.settings));
  const [found, given] = [...SCREENS, ...LATER].flatMap((each) => {
    const matched = match(each.path, wanted);
    return matched ? [/** @type {const} */ ([each, matched])] : [];
  })[0] ?? [unitsScreen, {}];
  const wants = present(app.settings) || found.open ? found : SIGN_IN;
  const turn = (opening += 1);
  const got = openScreen(wants);
  if (!(got instanceof Promise)) return show(got, given);
  const ifStill = (/** @type {Screen} */ opened) => turn === opening && show(opened, given);
  return void got.catch(notLoaded).then(ifStill).catch(failed);
}

/**
 * @param {Screen} opened
 * @param {Record<string, string>} given
 */
function show(opened, given) {
  leftAt = -Infinity;
  inFront(app.front, "", performance.now());
  // "Same again" is for the walk that one is on: it waits for no zone of another unit.
  if (!["walk", "views"].includes(opened.path.split("/")[2])) app.again = "";
  if (opened !== screen && !/^(menu$|help)/.test(screen.path)) before = screen.path;
  screen = opened;
  params = given;
  view = opened.keeps ? formAt(app, location.hash) : {};
  if (!noticeIsNew) notice = null;
  noticeIsNew = false;
  draw();
  document.querySelector("main")?.scrollTo(0, 0);
  /** @type {HTMLElement | null} */ (document.querySelector("h1"))?.focus({ preventScroll: true });
}

/**
 * @param {Event} event
 * @param {string} attribute
 */
async function act(event, attribute) {
  const element = /** @type {HTMLElement | null} */ (
    /** @type {Element} */ (event.target).closest(`[data-${attribute}]`)
  );
  const name = element?.dataset[attribute];
  if (!element || !name || element.hasAttribute("disabled")) return;
  const handler = screen.acts?.[name];
  const what = whatIs(element);
  // While an act is at work, and until the screen that it asked for shows, the same tap does nothing more.
  if (!handler || (attribute === "act" && (running.has(what) || performance.now() - leftAt < LEAVING_MS))) return;
  if (attribute === "act") running.add(what);
  const here = context();
  // What was typed is kept before the button that was pressed next does its work.
  if (attribute === "act") await typed;
  if (attribute === "act") notice = null;
  const at = location.hash;
  const keeps = screen.keeps;
  const work = async () => {
    await handler(here, element, event);
    if (keeps && location.hash === at && here.view === view) await keepForm(app, at, here.view, keeps);
  };
  const doing = work()
    .catch(failed)
    .finally(() => attribute === "act" && running.delete(what)); // a press must not end the tap that it became
  if (attribute === "change" || attribute === "input") typed = doing;
  await doing;
  if (!notice) drawNotice(null);
}

/**
 * A button of the notice does its work once.
 * @param {HTMLElement} pressed
 */
async function pressNotice(pressed) {
  const button = notice?.buttons?.[Number(pressed.dataset.notice)];
  if (!button || performance.now() - leftAt < LEAVING_MS) return;
  notice = null;
  drawNotice(null);
  await button.run(context());
}

/** @param {unknown} error */
function failed(error) {
  const words = error instanceof Error ? error.message : String(error);
  notice = { text: t`That did not work: ${words}. What was saved before is kept.`, shape: "not_saved" };
  drawNotice(notice);
  console.error(error);
}

/**
 * Stop a tap at what came under the finger after the tap before; it shows that it was seen.
 * @param {MouseEvent} event
 */
function heedSecondTap(event) {
  const { timeStamp, clientX: x, clientY: y } = event;
  if (!event.detail || (!x && !y)) return; // a keyboard, or a program
  const element = touchableAt(/** @type {Element} */ (event.target));
  const what = element ? whatIs(element) : "";
  if (admits({ at: timeStamp, x, y, what }, (distance) => touchablesNear(x, y, distance))) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  element?.classList.add("early");
  setTimeout(() => element?.classList.remove("early"), EARLY_MS);
}

function listen() {
  document.addEventListener("click", heedSecondTap, true);
  document.addEventListener("click", (event) => {
    if (event.target instanceof HTMLInputElement && event.target.type === "file") heedGone(event.target);
    const pressed = /** @type {HTMLElement | null} */ (/** @type {Element} */ (event.target).closest("[data-notice]"));
    if (pressed) void pressNotice(pressed).catch(failed);
    else void act(event, "act");
  });
  document.addEventListener("pointerdown", (event) => {
    touching = true;
    clearTimeout(lifting); // of the tap just before, whose end is not this one's
    void act(event, "press");
  });
  for (const end of ["pointerup", "pointercancel"])
    document.addEventListener(end, () => {
      clearTimeout(lifting);
      lifting = window.setTimeout(lifted, 100);
    });
  document.addEventListener("keydown", (event) => {
    const onShape = /** @type {Element} */ (event.target).closest?.("g[role=button]");
    if (!onShape || (event.key !== "Enter" && event.key !== " ")) return;
    event.preventDefault();
    void act(event, "act");
  });
  document.addEventListener("input", (event) => void act(event, "input"));
  document.addEventListener("change", (event) => {
    void act(event, "change");
    void act(event, "file");
  });
  addEventListener("hashchange", () => route());
  addEventListener("languagechange", () => draw()); // the browser's own, or a catalogue that was exchanged
  addEventListener("resize", () => drawIfLive()); // turned round: the drawing is laid out anew
  addEventListener("store-opened-again", () => void openedAgain().catch(failed));
  addEventListener("online", () => syncSoon());
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") syncSoon();
    else inFront(app.front, "", performance.now()); // in a pocket nobody looks
  });
  channel.addEventListener("message", () => void followOtherTab().catch(failed));
}

/**
 * A camera stays open for seconds. Where the screen is drawn anew meanwhile, its input is gone from the page, which then
 * hears nothing of the photo that it gets.
 * @param {HTMLInputElement} input
 */
function heedGone(input) {
  input.onchange = (event) => {
    if (!input.isConnected) void act(event, "file");
  };
}

function lifted() {
  touching = false;
  if (!drawAfterTouch) return;
  drawAfterTouch = false;
  drawIfLive();
}

/** Another tab of this phone has saved or synced: what it knows is on the disk. */
async function followOtherTab() {
  Object.assign(app.settings, await loadSettings(db));
  await reload(app);
  drawIfLive();
}

/** The browser had closed the store. Where it was cleared too, this is another installation: begin as one. */
async function openedAgain() {
  const kept = await loadSettings(db);
  if (kept.install_epoch !== app.settings.install_epoch) return location.reload();
  return followOtherTab();
}

function drawIfLive() {
  if (screen.live && !touching) draw();
  else drawHeadAlone();
}

function drawHeadAlone() {
  if (touching)
    drawAfterTouch = true; // a button drawn anew between touch and lift would not hear the tap
  else drawHead(context(), screen.page(context()));
}

await reload(app);
refusedBefore = refusedOf(app).length;
tellRoles();
app.worker.active = isServed(); // the browser may take long to say so again, above all without signal
listen();
route();
setInterval(drawHeadAlone, HEAD_MS); // the age of what is unsent
void watchWorker((state) => {
  const before = app.worker;
  app.worker = state;
  if (before.active !== state.active || before.waiting !== state.waiting || before.failed !== state.failed)
    drawIfLive();
})
  .then((watched) => (worker = watched))
  .catch(failed);
app.storage = await askToKeep();
await layBallast(db).catch(failed);
syncSoon();
await loadQuietly();
