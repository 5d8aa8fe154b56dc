/** What the browser says about keeping this phone's records. */

/** @import {StorageState} from "./shapes" */

/**
 * Ask that the browser never throws the store away, at every start.
 * @returns {Promise<StorageState>}
 */
export async function askToKeep() {
  if (!navigator.storage?.persist) return { persisted: null, free_bytes: null };
  const persisted = (await navigator.storage.persisted()) || (await navigator.storage.persist());
  const { quota, usage } = await navigator.storage.estimate();
  return { persisted, free_bytes: quota === undefined || usage === undefined ? null : Math.max(0, quota - usage) };
}
