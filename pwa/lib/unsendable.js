/** A photo that cannot be sent: how a person lets it go, with its trace in the record. */

import { ask, read, transact } from "./db.js";
import { fact } from "./facts.js";
import { t } from "./language.js";
import { reloadOwn, save, writing } from "./state.js";

/** @import {App} from "./shapes" */

/**
 * Remove a photo that cannot be sent. The record says that there was one, who removed it and why.
 * @param {App} app
 * @param {string} id  hash, or the capture's id
 */
export async function removePhoto(app, id) {
  const capture = await read(app.db, "captures", id);
  const photo = await read(app.db, "photos", id);
  const attached = app.entries.find((each) => each.kind === "photo_attached" && each.op.body.sha256 === id);
  const defect = capture?.defect ?? photo?.defect;
  const unit = capture?.unit ?? attached?.unit;
  if (!defect || !unit) return;
  const body = {
    defect,
    sha256: capture?.sha256 ?? id,
    reason: t`Could not be sent: ${app.refused_photos.get(id) ?? t`not readable`}`.slice(0, 500),
  };
  await save(app, [fact("photo_withdrawn", unit, body, { deps: [defect] })]);
  await writing(() =>
    transact(app.db, ["captures", "photos", "uploads"], async (tx) => {
      for (const store of ["captures", "photos", "uploads"]) await ask(tx.objectStore(store).delete(id));
    }),
  );
  await reloadOwn(app);
}
