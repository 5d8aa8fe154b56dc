/** What the browser grants: a service worker, without which nothing may be recorded, and lasting storage. */

import { t } from "./language.js";

/** @import {StorageState, WorkerControl, WorkerState} from "./shapes" */

/** Whether a service worker served this page: then one is active, and the app starts without signal. */
export function isServed() {
  return !!navigator.serviceWorker?.controller;
}

/**
 * @param {(state: WorkerState) => void} tell  called at once and at each change
 * @returns {Promise<WorkerControl>}
 */
export async function watchWorker(tell) {
  const none = { activate() {}, async check() {} };
  if (!("serviceWorker" in navigator)) {
    tell({ active: false, waiting: false, failed: t`this browser has no service worker, or the page is not on HTTPS` });
    return none;
  }
  let registration;
  try {
    registration = await navigator.serviceWorker.register("/app/sw.js", { scope: "/app/", updateViaCache: "none" });
  } catch (error) {
    registration = await navigator.serviceWorker.getRegistration("/app/");
    if (!registration) {
      tell({ active: false, waiting: false, failed: error instanceof Error ? error.message : String(error) });
      return none;
    }
  }
  return follow(registration, tell);
}

/**
 * @param {ServiceWorkerRegistration} registration
 * @param {(state: WorkerState) => void} tell
 */
function follow(registration, tell) {
  let tries = Number(window.name) || 0;
  window.name = "";
  const report = () =>
    tell({ active: !!registration.active, waiting: !!registration.waiting && !!registration.active, failed: "" });
  const watch = (/** @type {ServiceWorker | null} */ worker) => worker?.addEventListener("statechange", report);
  watch(registration.installing ?? registration.waiting ?? registration.active);
  registration.addEventListener("updatefound", () => {
    watch(registration.installing);
    report();
  });
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (tries) location.reload();
  });
  // Chromium at times lets the new one wait: then the page starts again and says it once more, a few times.
  const activate = () => {
    window.name = String((tries += 1));
    registration.waiting?.postMessage("activate");
    if (tries < 5) setTimeout(() => location.reload(), 3000);
  };
  if (tries && registration.waiting) activate();
  report();
  return {
    activate,
    async check() {
      await registration.update().catch(() => {}); // no signal: nothing newer
    },
  };
}

/**
 * Ask at every start that the store is kept.
 * @returns {Promise<StorageState>}
 */
export async function askToKeep() {
  if (!navigator.storage?.persist) return { persisted: null, free_bytes: null };
  const persisted = (await navigator.storage.persisted()) || (await navigator.storage.persist());
  return { persisted, free_bytes: await freeBytes() };
}

/** Room that is left for this app's store, null where the browser does not say. */
export async function freeBytes() {
  const { quota, usage } = (await navigator.storage?.estimate?.()) ?? {};
  return quota === undefined || usage === undefined ? null : Math.max(0, quota - usage);
}
