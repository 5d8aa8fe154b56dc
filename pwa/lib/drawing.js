/**
 * The drawing of a view as a map for a thumb: true in order and neighbourhood, stretched so that no zone is too small.
 */

/** @import {Outline, Zone} from "./shapes" */

/** @typedef {{at: (mm: number) => number, back: (px: number) => number, length: number, stops: number[], ends: [number, number]}} Axis  ends: what it shows, mm */

/** @typedef {{span: [number, number], least: number}} Need  a stretch in mm and the px that it needs */

const ROUNDS = 400;
const MARGIN = 0.06; // of the length, for what stands out beyond the zones; less where zones need it
const NARROW = 370; // px
const THUMB = 64; // px
// Of a zone's smallest side: what stays free beside a zone on top; less where room is short.
const STRIPS = [0.75, 0.6, 0.5];

/**
 * An axis from millimetres to pixels on which every span is at least as long as it needs.
 *
 * It starts from true scale and widens only what is too narrow, at the cost of the others; where that
 * cannot fit into `length`, the axis gets longer rather than a zone smaller.
 * @param {Need[]} needs
 * @param {number} length  in px
 * @returns {Axis}
 */
export function axis(needs, length) {
  const stops = [...new Set(needs.flatMap((need) => need.span))].sort((a, b) => a - b);
  const place = new Map(stops.map((stop, index) => [stop, index]));
  const total = stops[stops.length - 1] - stops[0];
  const bands = stops.slice(1).map((stop, index) => ((stop - stops[index]) / total) * length);
  const held = needs.map(({ span: [from, to], least }) => ({
    from: Number(place.get(from)),
    to: Number(place.get(to)),
    least,
  }));
  for (let round = 0; round < ROUNDS; round += 1) {
    widen(bands, held);
    scale(bands, length);
  }
  widen(bands, held);
  const edges = bands.reduce((sums, band) => [...sums, sums[sums.length - 1] + band], [0]);
  return {
    at: (mm) => between(stops, edges, mm),
    back: (px) => between(edges, stops, px),
    length: edges[edges.length - 1],
    stops,
    ends: [stops[0], stops[stops.length - 1]],
  };
}

/**
 * @param {number[]} bands
 * @param {{from: number, to: number, least: number}[]} held
 */
function widen(bands, held) {
  for (const { from, to, least } of held) {
    const sum = bands.slice(from, to).reduce((a, b) => a + b, 0);
    if (sum >= least) continue;
    for (let index = from; index < to; index += 1) bands[index] *= least / sum;
  }
}

/**
 * @param {number[]} bands
 * @param {number} length
 */
function scale(bands, length) {
  const sum = bands.reduce((a, b) => a + b, 0);
  for (let index = 0; index < bands.length; index += 1) bands[index] *= length / sum;
}

/**
 * A value of one rising scale on the other, straight between neighbours.
 * @param {number[]} from
 * @param {number[]} to
 * @param {number} value
 */
function between(from, to, value) {
  const above = from.findIndex((each) => each > value);
  const band = above < 0 ? from.length - 2 : Math.max(0, above - 1);
  const share = (value - from[band]) / (from[band + 1] - from[band]);
  return to[band] + share * (to[band + 1] - to[band]);
}

/**
 * @typedef {object} Drawn
 * @property {Zone} zone
 * @property {[number, number][]} points  in px, y down
 * @property {{x: number, y: number, width: number, height: number}} label  the free rectangle of the zone that a thumb
 *   and a name fit best
 */

/**
 * An axis with a little room at its ends for what stands out beyond the zones, such as a drawbar.
 * @param {Need[]} needs
 * @param {number} length  px
 * @param {number[]} beyond  places of what may stand out, mm
 * @returns {Axis}
 */
function withMargins(needs, length, beyond) {
  const ends = needs.flatMap((need) => need.span);
  const [from, to] = [Math.min(...ends), Math.max(...ends)];
  const [low, high] = [Math.min(from, ...beyond), Math.max(to, ...beyond)];
  const margin = length < NARROW ? 8 : Math.min(40, length * MARGIN);
  const [before, after] = [low < from ? margin : 0, high > to ? margin : 0];
  const inner = axis(needs, length - before - after);
  return {
    at: (mm) =>
      before +
      (mm < from
        ? ((mm - from) / (from - low)) * margin
        : mm > to
          ? inner.length + ((mm - to) / (high - to)) * margin
          : inner.at(mm)),
    back: (px) => inner.back(Math.min(inner.length, Math.max(0, px - before))),
    length: before + inner.length + after,
    stops: inner.stops,
    ends: [low, high],
  };
}

/**
 * Zones of one view laid out for the screen, those on top last.
 * @param {Zone[]} zones
 * @param {number} width  px
 * @param {number} height  px
 * @param {number} least  px, the smallest side of a zone
 * @param {Outline[]} [outlines]  of the same view, which may stand out beyond the zones
 * @returns {{width: number, height: number, stops: [number[], number[]], ends: [[number, number], [number, number]], drawn: Drawn[], mark: (x: number, y: number) => [number, number], place: (point: [number, number]) => [number, number]}}
 *   mark: the place of a touch on the view, whole mm; place: a point of the view in px;
 *   stops: where the scales change, ends: what is shown, both in mm
 */
export function layOut(zones, width, height, least, outlines = []) {
  const ordered = [...zones].sort((a, b) => a.layer - b.layer || a.walk_order - b.walk_order);
  const strips = ordered.filter((zone) => zone.layer === 0).flatMap((zone) => freeStrip(zone, ordered));
  const needs = (/** @type {0 | 1} */ side, /** @type {number} */ share) => [
    ...ordered.map((zone) => ({ span: span(zone, side), least })),
    ...strips.filter((strip) => strip.side === side).map((strip) => ({ span: strip.span, least: least * share })),
  ];
  const beyond = (/** @type {0 | 1} */ side) => outlines.flatMap((each) => each.points.map((point) => point[side]));
  const fitting = (/** @type {0 | 1} */ side, /** @type {number} */ length) => {
    const made = STRIPS.map((share) => withMargins(needs(side, share), length, beyond(side)));
    return made.find((each) => each.length < length + 1) ?? made[made.length - 1];
  };
  const x = fitting(0, width);
  const y = fitting(1, height);
  const free = freeCells(ordered, x.stops, y.stops);
  const drawn = ordered.map((zone) => {
    const [left, low, right, high] = bestFree(free, zone, x, y);
    const label = {
      x: x.at(x.stops[left]),
      y: y.length - y.at(y.stops[high]),
      width: x.at(x.stops[right]) - x.at(x.stops[left]),
      height: y.at(y.stops[high]) - y.at(y.stops[low]),
    };
    const points = zone.points.map(([px, py]) => /** @type {[number, number]} */ ([x.at(px), y.length - y.at(py)]));
    return { zone, points, label };
  });
  return {
    width: x.length,
    height: y.length,
    stops: [x.stops, y.stops],
    ends: [x.ends, y.ends],
    drawn,
    place: ([px, py]) => [x.at(px), y.length - y.at(py)],
    mark: (px, py) => [Math.round(x.back(px)), Math.round(y.back(y.length - py))],
  };
}

/**
 * The widest strip of a zone beside those on top of it, which is where a thumb can still touch it.
 * @param {Zone} zone
 * @param {Zone[]} ordered
 * @returns {{side: 0 | 1, span: [number, number]}[]}
 */
function freeStrip(zone, ordered) {
  const over = ordered.filter(
    (each) => each.layer > zone.layer && sides.every((side) => overlaps(span(each, side), span(zone, side))),
  );
  if (!over.length) return [];
  const strips = sides.flatMap((side) => {
    const [from, to] = span(zone, side);
    const low = Math.min(...over.map((each) => span(each, side)[0]));
    const high = Math.max(...over.map((each) => span(each, side)[1]));
    /** @type {[number, number][]} */
    const both = [
      [from, low],
      [high, to],
    ];
    return both.map((strip) => ({ side, span: strip }));
  });
  const widest = strips.sort((a, b) => b.span[1] - b.span[0] - (a.span[1] - a.span[0]))[0];
  return widest.span[1] > widest.span[0] ? [widest] : [];
}

const sides = /** @type {const} */ ([0, 1]);

/**
 * @param {[number, number]} a
 * @param {[number, number]} b
 */
function overlaps(a, b) {
  return a[0] < b[1] && b[0] < a[1];
}

/**
 * @param {Zone} zone
 * @param {0 | 1} side
 * @returns {[number, number]}
 */
function span(zone, side) {
  const values = zone.points.map((point) => point[side]);
  return [Math.min(...values), Math.max(...values)];
}

/**
 * For each cell of the grid the zone on top there, by column and row.
 * @param {Zone[]} ordered
 * @param {number[]} xs
 * @param {number[]} ys
 */
function freeCells(ordered, xs, ys) {
  return xs.slice(1).map((right, column) =>
    ys.slice(1).map((top, row) => {
      const middle = /** @type {[number, number]} */ ([(xs[column] + right) / 2, (ys[row] + top) / 2]);
      return ordered.findLast((zone) => holds(zone.points, middle)) ?? null;
    }),
  );
}

/**
 * Whether a point lies in an outline (even-odd rule).
 * @param {[number, number][]} points
 * @param {[number, number]} point
 */
export function holds(points, [x, y]) {
  let inside = false;
  points.forEach(([ax, ay], index) => {
    const [bx, by] = points[(index + points.length - 1) % points.length];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
  });
  return inside;
}

/**
 * The best rectangle of cells that are all the zone's own: left, low, right, high as stop indices.
 * @param {(Zone | null)[][]} cells
 * @param {Zone} zone
 * @param {Axis} x
 * @param {Axis} y
 */
function bestFree(cells, zone, x, y) {
  const columns = x.stops.length - 1;
  const rows = y.stops.length - 1;
  let best = [0, 0, 1, 1];
  let most = 0;
  for (let left = 0; left < columns; left += 1) {
    for (let low = 0; low < rows; low += 1) {
      let limit = rows;
      for (let right = left; right < columns && cells[right][low] === zone; right += 1) {
        let high = low;
        while (high < limit && cells[right][high] === zone) high += 1;
        limit = high;
        const width = x.at(x.stops[right + 1]) - x.at(x.stops[left]);
        const height = y.at(y.stops[limit]) - y.at(y.stops[low]);
        // Room for a thumb first, then room for words: the sign stands where people aim.
        const worth = Math.min(width, height, THUMB) * 1e6 + width * height;
        if (worth > most) {
          most = worth;
          best = [left, low, right + 1, limit];
        }
      }
    }
  }
  return best;
}
