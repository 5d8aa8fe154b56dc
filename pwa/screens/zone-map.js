/** A view's zones as a drawing or as a list, with how each stands: word or shape, never colour alone. */

import { layOut } from "../lib/drawing.js";
import { html } from "../lib/html.js";
import { SHAPES, shape } from "./parts.js";

/** @import {Mark, View, Zone} from "../lib/shapes" */

const LEAST = 64;
const EDGE = 4; // room for the outline
const CAPTIONS = 34;
const SIGN = 9.4; // px, mean width of a letter of the label
const LINE = 19;

/** @type {((x: number, y: number) => [number, number]) | null} */
let touchedPlace = null;

/**
 * Where on the view a touch fell, in mm; null in the list or from a keyboard.
 * @param {Element} zone
 * @param {Event} event
 * @returns {[number, number] | null}
 */
export function markOf(zone, event) {
  const drawing = zone.closest("svg.drawing");
  const isTouch = event instanceof MouseEvent && (event.clientX || event.clientY);
  if (!drawing || !touchedPlace || !isTouch) return null;
  const box = drawing.getBoundingClientRect();
  return touchedPlace(event.clientX - box.left - EDGE, event.clientY - box.top - EDGE);
}

/** @param {Mark} mark */
function standing({ look, defects }) {
  const words = { looked: "looked at", not: "not looked at", none: "not yet" }[look.state];
  return `${defects ? `${defects} open, ` : ""}${words}`;
}

/**
 * @param {Mark[]} marks
 * @param {View} view
 * @param {string} touch  what a touch does
 */
export function zoneList(marks, view, touch) {
  return html`<p class="sides"><span>◂ ${view.left}</span><span>${touch}</span><span>${view.right} ▸</span></p>
    <ul class="list zones">${marks.map(
      (mark) => html`<li class="zone-row" data-look="${mark.look.state}">
        <button type="button" class="row" data-act="zone" data-zone="${mark.zone.key}">
          <span class="row-title">${shape(mark.look.state)} ${mark.zone.name}</span><span>${standing(mark)}${mark.zone.caution ? ` · caution ${mark.zone.caution}` : ""}</span>
        </button>
        <button type="button" class="tick" data-act="looked" data-value="${mark.zone.key}" ${mark.look.state === "looked" ? html`disabled` : ""}
          aria-label="${mark.zone.name} looked at">${mark.look.state === "looked" ? "Done" : "Looked at"}</button>
      </li>`,
    )}</ul>`;
}

/**
 * @param {Mark[]} marks
 * @param {View} view
 * @param {{width: number, height: number}} room
 * @param {"standard" | "glove"} targets
 * @param {string} touch  what a touch does
 */
export function zoneDrawing(marks, view, room, targets, touch) {
  const width = room.width - 2 * EDGE;
  const height = Math.max(300, room.height - CAPTIONS - 2 * EDGE);
  // Gloves get the largest zones that the width allows; the list serves where that is not enough.
  const least = targets === "glove" ? Math.min(96, width / 4) : LEAST;
  const map = layOut(marks.map((mark) => mark.zone), width, height, least);
  touchedPlace = map.mark;
  const byKey = new Map(marks.map((mark) => [mark.zone.key, mark]));
  const box = `${-EDGE} ${-EDGE} ${Math.ceil(map.width + 2 * EDGE)} ${Math.ceil(map.height + 2 * EDGE)}`;
  return html`<p class="sides"><span>◂ ${view.left}</span><span>${touch}</span><span>${view.right} ▸</span></p>
    <svg class="drawing" role="group" aria-label="${view.name}" viewBox="${box}" width="${Math.ceil(map.width + 2 * EDGE)}" height="${Math.ceil(map.height + 2 * EDGE)}">
      <defs><pattern id="not-looked" width="10" height="10" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect class="hatch-ground" width="10" height="10"/><rect class="hatch" width="2" height="10"/></pattern></defs>
      ${map.drawn.map((drawn) => zoneShape(drawn, /** @type {Mark} */ (byKey.get(drawn.zone.key))))}
    </svg>`;
}

/**
 * @param {import("../lib/drawing.js").Drawn} drawn
 * @param {Mark} mark
 */
function zoneShape({ zone, points, label }, mark) {
  const outline = points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");
  return html`<g class="zone" role="button" tabindex="0" data-act="zone" data-zone="${zone.key}" data-look="${mark.look.state}" data-layer="${zone.layer}"
      aria-label="${zone.name}: ${standing(mark)}">
    <polygon points="${outline}"/>${labelText(zone, mark, label)}
  </g>`;
}

/**
 * The sign of how the zone stands, open defects as a figure, and as much of the name as fits.
 * @param {Zone} zone
 * @param {Mark} mark
 * @param {{x: number, y: number, width: number, height: number}} label
 */
function labelText(zone, mark, label) {
  const lines = nameLines(zone.name, label.width - 4, Math.floor((label.height - 30) / LINE));
  const middle = label.x + label.width / 2;
  const top = label.y + (label.height - (26 + lines.length * LINE)) / 2;
  const signX = middle - (mark.defects ? 26 : 11);
  return html`<svg class="sign" x="${signX.toFixed(1)}" y="${top.toFixed(1)}" width="22" height="22" viewBox="0 0 24 24" aria-hidden="true">${SHAPES[mark.look.state]}</svg>
    ${lines.map((line, place) => html`<text class="zone-name" x="${middle.toFixed(1)}" y="${(top + 26 + LINE * place + 14).toFixed(1)}">${line}</text> `)}
    ${mark.defects ? html`<rect class="badge" x="${(middle + 1).toFixed(1)}" y="${(top - 1).toFixed(1)}" width="26" height="24" rx="3"/><text class="badge-figure" x="${(middle + 14).toFixed(1)}" y="${(top + 18).toFixed(1)}">${mark.defects}</text>` : ""}`;
}

/**
 * As much of a name as fits into lines broken at its spaces; what is left out is told by "…".
 * @param {string} name
 * @param {number} width  px
 * @param {number} most  lines
 */
export function nameLines(name, width, most) {
  const signs = Math.floor(width / SIGN);
  const words = name.split(" ");
  for (let count = words.length; count > 0; count -= 1) {
    const lines = broken(count < words.length ? [...words.slice(0, count - 1), `${words[count - 1].replace(/,$/, "")}…`] : words, signs);
    if (lines.length <= most && lines.every((line) => line.length <= signs)) return lines;
  }
  return [];
}

/**
 * @param {string[]} words
 * @param {number} signs
 */
function broken(words, signs) {
  /** @type {string[]} */
  const lines = [];
  for (const word of words) {
    const last = lines[lines.length - 1];
    if (last !== undefined && last.length + 1 + word.length <= signs) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
}
