/**
 * A view's zones over the drawing of the unit, or as a list, with how each stands: by pattern, sign and word, never
 * colour alone.
 */

import { layOut } from "../lib/drawing.js";
import { html } from "../lib/html.js";
import { t } from "../lib/language.js";
import { outlineShapes } from "./outline.js";
import { SHAPES, shape } from "./parts.js";

/** @import {Defect, Laid, Mark, Outline, View, ViewPicture} from "../lib/shapes" */
/** @typedef {import("../lib/drawing.js").Drawn} Drawn */

const LEAST = 64;
const EDGE = 3; // room for the outline
const CAPTION = 26;
const SIGN = 10.4; // px, width of a letter of the label, wide ones among them
const LINE = 18;
const HALF = 12; // of a sign

/** @type {((x: number, y: number) => [number, number]) | null} */
let touchedPlace = null;

/** @type {Laid | null} */
let laid = null;

/** The picture of what was drawn since this was asked last, and what it lies under; null where that has none. */
export function pictured() {
  const last = laid;
  laid = null;
  return last;
}

/**
 * Where on the view a touch fell, in mm; null in the list or from a keyboard.
 * @param {Element} zone
 * @param {Event} event
 * @returns {[number, number] | null}
 */
export function markOf(zone, event) {
  const drawing = /** @type {SVGSVGElement | null} */ (zone.closest("svg.drawing"));
  const isTouch = event instanceof MouseEvent && (event.clientX || event.clientY);
  const matrix = drawing?.getScreenCTM();
  if (!matrix || !touchedPlace || !isTouch) return null;
  const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  return touchedPlace(x, y);
}

/** @param {Mark} mark */
function standing({ look, defects, often, next }) {
  const looked = { looked: t`looked at`, not: t`not looked at`, none: t`not yet` }[look.state];
  const open = defects.filter((defect) => defect.state === "open").length;
  const told = [
    open ? t`${open} open` : "",
    defects.length - open ? t`${defects.length - open} repaired` : "",
    looked,
    next ? t("next") : "",
    often ? t`often found here` : "",
  ];
  return told.filter(Boolean).join(", ");
}

/**
 * The name of the zone under a finger, above the drawing while it is there: lifted elsewhere, nothing is touched.
 * @param {Element} zone
 */
export function showName(zone) {
  const line = document.querySelector(".sides");
  if (!line) return;
  const name = Object.assign(document.createElement("b"), {
    className: "pressed",
    textContent: zone.getAttribute("aria-label") ?? "",
  });
  line.append(name);
  const gone = () => name.remove();
  for (const end of ["pointerup", "pointercancel"]) addEventListener(end, gone, { once: true });
}

/** @param {View} view */
function sides(view) {
  return html`<p class="sides"><span>◂ ${view.left}</span><span>${view.right} ▸</span></p>`;
}

/**
 * @param {Mark[]} marks
 * @param {View} view
 */
export function zoneList(marks, view) {
  return html`${sides(view)}
    <ul class="list zones">
      ${marks.map(
        (mark) =>
          html`<li class="zone-row" data-look="${mark.look.state}">
            <button type="button" class="row" data-act="zone" data-zone="${mark.zone.key}">
              <span class="row-title">${shape(mark.look.state)} ${mark.zone.name}</span
              ><span>${standing(mark)}${mark.zone.caution ? t` · caution` : ""}</span>
            </button>
            <button
              type="button"
              class="tick"
              data-act="looked"
              data-value="${mark.zone.key}"
              ${mark.look.state === "looked" ? html`disabled` : ""}
              aria-label="${mark.zone.name} looked at"
            >
              ${mark.look.state === "looked" ? t`Done` : t`Looked at`}
            </button>
          </li>`,
      )}
    </ul>`;
}

/**
 * @param {Mark[]} marks
 * @param {View} view
 * @param {{width: number, height: number}} room
 * @param {"standard" | "glove"} targets
 * @param {Outline[]} outlines  shown until the picture is there
 * @param {ViewPicture} [picture]
 */
export function zoneDrawing(marks, view, room, targets, outlines, picture) {
  const width = room.width - 2 * EDGE;
  const height = Math.max(180, room.height - CAPTION - 2 * EDGE);
  const zones = marks.map((mark) => mark.zone);
  // Gloves get the largest zones that the width allows; the list serves where that is not enough.
  const sizes = targets === "glove" ? [96, 88, 80, 72, LEAST] : [LEAST];
  const maps = sizes.map((least) => layOut(zones, width, height, least, outlines));
  const map = maps.find((each) => each.width < width + 1) ?? maps[maps.length - 1];
  touchedPlace = map.mark;
  laid = picture ? { picture, map } : null;
  const byKey = new Map(marks.map((mark) => [mark.zone.key, mark]));
  const markFor = (/** @type {Drawn} */ drawn) => /** @type {Mark} */ (byKey.get(drawn.zone.key));
  const box = `${-EDGE} ${-EDGE} ${Math.ceil(map.width + 2 * EDGE)} ${Math.ceil(map.height + 2 * EDGE)}`;
  return html`${sides(view)}
    <svg
      class="drawing"
      role="group"
      aria-label="${view.name}"
      viewBox="${box}"
      width="${Math.ceil(map.width + 2 * EDGE)}"
      height="${Math.ceil(map.height + 2 * EDGE)}"
    >
      <defs>${hatch("looked", 45)}${hatch("not-looked", 135)}</defs>
      ${outlineShapes(outlines, map.place)} ${map.drawn.map((drawn) => zoneShape(drawn, markFor(drawn), map.place))}
    </svg>`;
}

/**
 * @param {string} name
 * @param {number} turn  degrees
 */
function hatch(name, turn) {
  return html`<pattern
    id="${name}"
    width="9"
    height="9"
    patternUnits="userSpaceOnUse"
    patternTransform="rotate(${turn})"
    ><rect class="ground-${name}" width="9" height="9" /><rect
      class="hatch"
      width="${name === "looked" ? 1 : 3}"
      height="9"
  /></pattern>`;
}

/**
 * @param {Drawn} drawn
 * @param {Mark} mark
 * @param {(point: [number, number]) => [number, number]} place
 */
function zoneShape({ zone, points, label }, mark, place) {
  const outline = points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");
  const placed = mark.defects.filter((defect) => defect.mark);
  const spots = placed.map((defect) => place(/** @type {[number, number]} */ (defect.mark)));
  return html`<g
    class="zone"
    role="button"
    tabindex="0"
    data-act="zone"
    data-press="name"
    data-zone="${zone.key}"
    data-look="${mark.look.state}"
    data-layer="${zone.layer}"
    ${mark.next ? html`data-next` : ""}
    aria-label="${zone.name}: ${standing(mark)}"
  >
    <polygon
      points="${outline}"
    />${labelText(zone.name, mark, label, spots)}${placed.map((defect, at) => spot(defect, spots[at]))}
  </g>`;
}

/**
 * A defect where it was touched: its severity's shape, hollow once it is repaired.
 * @param {Defect} defect
 * @param {[number, number]} at
 */
function spot({ severity, state }, [x, y]) {
  return html`<svg
    class="spot"
    data-state="${state}"
    x="${(x - 13).toFixed(1)}"
    y="${(y - 13).toFixed(1)}"
    width="26"
    height="26"
    viewBox="-2 -2 28 28"
    aria-hidden="true"
  >
    ${SHAPES[severity]}
  </svg>`;
}

/**
 * The sign of how the zone stands, the number of open defects that have no place of their own, and the name where all
 * of it fits beside the spots: where a defect is comes before what the zone is called.
 * @param {string} name
 * @param {Mark} mark
 * @param {{x: number, y: number, width: number, height: number}} label
 * @param {[number, number][]} spots
 */
function labelText(name, mark, label, spots) {
  const middle = label.x + label.width / 2;
  const whole = nameLines(name, label.width - 6, Math.floor((label.height - 30) / LINE));
  const topOf = (/** @type {number} */ count) => label.y + (label.height - (2 * HALF + 2 + count * LINE)) / 2;
  const half = (Math.max(0, ...whole.map((line) => line.length)) * SIGN) / 2 + HALF;
  const covers = spots.some(
    ([x, y]) =>
      Math.abs(x - middle) < half &&
      y > topOf(whole.length) - HALF &&
      y < topOf(whole.length) + 3 * HALF + whole.length * LINE,
  );
  const lines = covers ? [] : whole;
  const top = topOf(lines.length);
  const unplaced = mark.defects.filter((defect) => !defect.mark).length;
  const signs = [mark.next ? "next" : mark.look.state, ...(mark.often ? ["often"] : [])];
  const left = middle - (signs.length * 26 + (unplaced ? 28 : 0)) / 2;
  const badge = left + signs.length * 26;
  return html`${signs.map(
    (sign, place) =>
      html`<svg
        class="sign"
        data-sign="${sign}"
        x="${(left + 1 + place * 26).toFixed(1)}"
        y="${top.toFixed(1)}"
        width="24"
        height="24"
        viewBox="0 0 24 24"
        aria-hidden="true"
      >
        ${sign === "none" ? NOTHING : SHAPES[/** @type {keyof typeof SHAPES} */ (sign)]}
      </svg>`,
  )}
  ${lines.map(
    (line, place) =>
      html`<text class="zone-name" x="${middle.toFixed(1)}" y="${(top + 2 * HALF + 2 + LINE * place + 14).toFixed(1)}"
        >${line}</text
      > `,
  )}
  ${
    unplaced
      ? html`<rect
            class="badge"
            x="${badge.toFixed(1)}"
            y="${(top - 1).toFixed(1)}"
            width="26"
            height="26"
            rx="3"
          /><text class="badge-figure" x="${(badge + 13).toFixed(1)}" y="${(top + 19).toFixed(1)}">${unplaced}</text>`
      : ""
  }`;
}

const NOTHING = html`<circle cx="12" cy="12" r="3" />`; // a zone that nobody has spoken of: a place to aim at, no more

/**
 * A name in lines broken at its spaces; no line where it does not fit whole, since half a name is another name.
 * @param {string} name
 * @param {number} width  px
 * @param {number} most  lines
 */
export function nameLines(name, width, most) {
  const signs = Math.floor(width / SIGN);
  const lines = broken(name.split(" "), signs);
  return lines.length <= most && lines.every((line) => line.length <= signs) ? lines : [];
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
