/** The service worker as the app sees it: without an active one nothing may be recorded, and an update waits. */

/** @import {WorkerState} from "./shapes" */

/**
 * @param {(state: WorkerState) => void} tell  called at once and at each change
 * @returns {Promise<{activate: () => void, check: () => Promise<void>}>}
 */
export async function watchWorker(tell) {
  const none = { activate() {}, async check() {} };
  if (!("serviceWorker" in navigator)) {
    tell({ active: false, waiting: false, failed: "this browser has no service worker, or the page is not on HTTPS" });
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
  let asked = false;
  const report = () => tell({ active: !!registration.active, waiting: !!registration.waiting && !!registration.active, failed: "" });
  const watch = (/** @type {ServiceWorker | null} */ worker) => worker?.addEventListener("statechange", report);
  watch(registration.installing ?? registration.waiting ?? registration.active);
  registration.addEventListener("updatefound", () => {
    watch(registration.installing);
    report();
  });
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (asked) location.reload();
  });
  report();
  return {
    activate() {
      asked = true;
      registration.waiting?.postMessage("activate");
    },
    async check() {
      await registration.update().catch(() => {}); // without signal there is nothing newer to be had
    },
  };
}
