/**
 * What a unit looks like in one view: the plant's outlines as lines under the zones. A wheel stays round on any screen.
 */

import { html } from "../lib/html.js";

/** @import {Outline} from "../lib/shapes" */

/** @typedef {import("../lib/html.js").Markup} Markup */
/** @typedef {[number, number]} Point */
/** @typedef {(point: Point) => Point} Place */

const OPEN = ["roof", "line"];

/**
 * @param {Outline[]} outlines
 * @param {Place} place  a point of the view in px
 */
export function outlineShapes(outlines, place) {
  const wheels = outlines.filter((each) => each.part === "wheel").map((each) => each.points);
  return html`<g class="outlines" aria-hidden="true">${outlines.map((each) => shapeOf(each, place, wheels))}</g>`;
}

/**
 * @param {Outline} outline
 * @param {Place} place
 * @param {Point[][]} wheels
 * @returns {Markup}
 */
function shapeOf({ part, points, swing }, place, wheels) {
  if (part === "wheel") return wheel(points, place, wheels);
  const at = points.map(place);
  if (swing === "plan") return planDoor(at);
  if (OPEN.includes(part)) return html`<polyline class="part-${part}" points="${joined(at)}" />`;
  return html`<polygon class="part-${part}" points="${joined(at)}" />${
      swing ? html`<polyline class="part-swing" points="${joined(swingOf(at, swing))}" />` : ""
    }${part === "vent" ? slats(at) : ""}`;
}

/** @param {Point[]} points */
function joined(points) {
  return points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");
}

/** @param {Point[]} points  centre of a wheel and a point of its rim */
function radiusOf([centre, rim]) {
  return Math.hypot(rim[0] - centre[0], rim[1] - centre[1]);
}

/**
 * The axes stretch a view so that each zone takes a thumb; wheels of one size take the smallest scale that any of them
 * has.
 * @param {Point[]} points  centre and a point of the rim
 * @param {Place} place
 * @param {Point[][]} wheels  of the view
 */
function wheel(points, place, wheels) {
  const mm = radiusOf(points);
  const [x, y] = place(points[0]);
  const scaled = wheels
    .filter((each) => radiusOf(each) === mm)
    .flatMap(([[cx, cy]]) => {
      const [atX, atY] = place([cx, cy]);
      return [place([cx + mm, cy])[0] - atX, atX - place([cx - mm, cy])[0], Math.abs(place([cx, cy + mm])[1] - atY)];
    });
  const radius = Math.max(5, Math.min(...scaled));
  return html`<circle class="part-wheel" cx="${x.toFixed(1)}" cy="${y.toFixed(1)}" r="${radius.toFixed(1)}" /><circle
      class="part-line"
      cx="${x.toFixed(1)}"
      cy="${y.toFixed(1)}"
      r="${(radius * 0.45).toFixed(1)}"
    />`;
}

/**
 * A door in elevation: two lines from its free edge's corners to the middle of the side on which it hangs.
 * @param {Point[]} at
 * @param {string} swing
 * @returns {Point[]}
 */
function swingOf(at, swing) {
  const xs = at.map(([x]) => x);
  const ys = at.map(([, y]) => y);
  const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const [x, y] = [(left + right) / 2, (top + bottom) / 2];
  if (swing === "left")
    return [
      [right, top],
      [left, y],
      [right, bottom],
    ];
  if (swing === "right")
    return [
      [left, top],
      [right, y],
      [left, bottom],
    ];
  if (swing === "top")
    return [
      [left, bottom],
      [x, top],
      [right, bottom],
    ];
  return [
    [left, top],
    [x, bottom],
    [right, top],
  ];
}

/**
 * A door from above: the leaf as it stands open and the way of its free edge.
 * @param {Point[]} at  hinge, free edge shut, free edge open
 */
function planDoor([hinge, shut, open]) {
  const corner = [shut[0] + open[0] - hinge[0], shut[1] + open[1] - hinge[1]];
  const way = `M${joined([hinge])} L${joined([open])} Q${corner.map((each) => each.toFixed(1)).join(",")} ${joined([shut])}`;
  return html`<polyline class="part-gap" points="${joined([hinge, shut])}" /><path class="part-swing" d="${way}" />`;
}

/** @param {Point[]} at */
function slats(at) {
  const xs = at.map(([x]) => x);
  const ys = at.map(([, y]) => y);
  const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  return [1, 2, 3].map((each) => {
    const y = (top + ((bottom - top) * each) / 4).toFixed(1);
    return html`<polyline class="part-line" points="${left.toFixed(1)},${y} ${right.toFixed(1)},${y}" />`;
  });
}
