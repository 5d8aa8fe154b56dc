/** Where a defect is: its view of the unit in true proportion, its zone, and the point that was touched. */

import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { outlinesOf, shortName, zoneOf, zonesOf } from "../lib/plant.js";
import { outlineShapes } from "./outline.js";
import { SHAPES } from "./parts.js";

/** @import {Defect, Plant, UnitView} from "../lib/shapes" */

const WIDE = 340; // px
const HIGH = 190;
const EDGE = 14;

/**
 * @param {Plant} plant
 * @param {UnitView} unit
 * @param {Pick<Defect, "zone" | "mark" | "state"> & {severity: Defect["severity"] | null}} defect  severity null: a
 *   zone alone
 */
export function whereDrawn(plant, unit, { zone: key, mark, severity, state }) {
  const zone = zoneOf(plant, unit.model, key);
  const view = zone && plant.views.find((each) => each.id === zone.view);
  if (!zone || !view) return "";
  const outlines = outlinesOf(plant, unit.model, view.id);
  const points = [
    ...outlines.flatMap((each) => each.points),
    ...zonesOf(plant, unit, view.id).flatMap((each) => each.points),
  ];
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  const [left, right, low, high] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const scale = Math.min(WIDE / (right - left), HIGH / (high - low));
  const place = (/** @type {[number, number]} */ [x, y]) =>
    /** @type {[number, number]} */ ([EDGE + (x - left) * scale, EDGE + (high - y) * scale]);
  const [width, height] = [(right - left) * scale + 2 * EDGE, (high - low) * scale + 2 * EDGE];
  const middle = /** @type {[number, number]} */ (
    [0, 1].map(
      (side) =>
        (Math.min(...zone.points.map((each) => each[side])) + Math.max(...zone.points.map((each) => each[side]))) / 2,
    )
  );
  const [x, y] = place(mark ?? middle);
  const at = `${zone.name}, ${shortName(view)}`;
  const told = !severity ? at : mark ? t`${at}, touched point marked` : t`${at}, no point given`;
  return html`<svg
      class="drawing where"
      role="img"
      aria-label="${told}"
      viewBox="0 0 ${width.toFixed(0)} ${height.toFixed(0)}"
      width="${width.toFixed(0)}"
      height="${height.toFixed(0)}"
    >
      ${outlineShapes(outlines, place)}
      <polygon
        class="where-zone"
        points="${zone.points
          .map((each) =>
            place(each)
              .map((px) => px.toFixed(1))
              .join(","),
          )
          .join(" ")}"
      />
      ${mark ? html`<circle class="where-ring" cx="${x.toFixed(1)}" cy="${y.toFixed(1)}" r="18" />` : ""}
      ${
        severity
          ? html`<svg
              class="spot"
              data-state="${state}"
              x="${(x - 11).toFixed(1)}"
              y="${(y - 11).toFixed(1)}"
              width="22"
              height="22"
              viewBox="-2 -2 28 28"
            >
              ${SHAPES[severity]}
            </svg>`
          : ""
      }
    </svg>
    <p class="sides where-sides"><span>◂ ${view.left}</span><span>${view.right} ▸</span></p>`;
}
