/** When to sync: soon after each act, at each sign of signal, else now and then; one tab at a time. */

import { retryDelay } from "./clock.js";
import { present } from "./session.js";
import { reload, reloadOwn } from "./state.js";
import { makeAllReady, syncRound } from "./sync.js";

/** @import {App} from "./shapes" */

const LOCK = "daybay-sync";
const SOON_MS = 300; // so that a save and what follows it go together
const QUIET_MS = 60_000;

/**
 * @param {App} app
 * @param {{begun: () => void, ended: (was_here: boolean) => void, failed: (error: unknown) => void}} tell
 * @returns {(now?: boolean) => void} sync soon, or at once
 */
export function syncLoop(app, tell) {
  let failures = 0;
  let busy = false;
  let wanted = false; // asked for since the last round began: what was saved on its way has missed it
  let timer = 0;

  function soon(now = false) {
    wanted = true;
    wake(now ? 0 : SOON_MS);
  }

  /** @param {number} ms */
  function wake(ms) {
    clearTimeout(timer);
    timer = window.setTimeout(() => void round().catch(tell.failed), ms);
  }

  async function round() {
    if (busy) return; // its end begins the next one
    busy = true;
    wanted = false;
    let done = false;
    try {
      // Where another tab is at it, that one will tell.
      done = await navigator.locks.request(LOCK, { ifAvailable: true }, async (lock) => !!lock && roundHere());
    } finally {
      busy = false;
      app.sync.running = false;
      await reload(app);
      tell.ended(done);
      wake(wanted ? SOON_MS : wait(done));
    }
  }

  /** @param {boolean} done */
  function wait(done) {
    return failures || !done ? retryDelay(failures, Math.random()) : QUIET_MS * (0.75 + Math.random() / 2);
  }

  async function roundHere() {
    const session = present(app.settings);
    await makeAllReady(app.db);
    await reloadOwn(app);
    if (!session || session.ended) return true;
    failures += 1; // until it went well: a round that breaks off is tried again later and later
    app.sync.running = true;
    tell.begun();
    const { online, signed_out, problem } = await syncRound({
      db: app.db,
      settings: app.settings,
      token: session.token,
    });
    Object.assign(app.sync, { online: online && !signed_out, problem });
    if (!problem) failures = 0;
    return true;
  }

  return soon;
}
