// The drawing on the screen: picture, outlines, zones, what lies twice and what lies bare, the handles of the chosen zone.

import { say } from "../words.js";
import { boxOf, cornersOf } from "./geometry.js";
import { nameOf } from "./drawing.js";

const SVG = "http://www.w3.org/2000/svg";
const MARGIN = 0.05;
const LETTER = 14; // px
const HANDLE = 8;
const REACH = 22; // what a finger meets

function made(name, attributes = {}, ...inside) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...inside);
  return element;
}

export class Sheet {
  /** @param {SVGSVGElement} svg @param {HTMLElement} paper */
  constructor(svg, paper) {
    this.svg = svg;
    this.paper = paper;
    this.zoom = 1;
    this.box = null;
    this.mm = 1; // millimetres in a pixel
  }

  /** Fit the paper to what is drawn; it stays so while something is moved on it. */
  fit({ zones, picture, lines, length }) {
    const [left, bottom, right, top] = picture?.corners ?? [];
    const corners = picture
      ? [
          [left, bottom],
          [right, top],
        ]
      : [];
    const box = boxOf([...zones.flatMap((zone) => zone.points), ...lines.flat(), ...corners]) ?? {
      left: 0,
      bottom: 0,
      right: length,
      top: length / 2,
    };
    const edge = MARGIN * Math.max(box.right - box.left, box.top - box.bottom, 200);
    this.box = { left: box.left - edge, bottom: box.bottom - edge, right: box.right + edge, top: box.top + edge };
    this.lay();
  }

  lay() {
    const [wide, high] = [this.box.right - this.box.left, this.box.top - this.box.bottom];
    const scale = this.zoom * Math.min(this.paper.clientWidth / wide, this.paper.clientHeight / high);
    if (!(scale > 0)) return; // a window of no size: it is laid at its next one
    this.mm = 1 / scale;
    this.svg.setAttribute("viewBox", `0 0 ${wide} ${high}`);
    this.svg.setAttribute("width", Math.floor(wide * scale));
    this.svg.setAttribute("height", Math.floor(high * scale));
  }

  at([x, y]) {
    return [x - this.box.left, this.box.top - y];
  }

  /** Where a pointer is, in whole millimetres of the view. */
  placeOf({ clientX, clientY }) {
    const { x, y } = new DOMPoint(clientX, clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [Math.round(x + this.box.left), Math.round(this.box.top - y)];
  }

  outline(points) {
    return points.map((point) => this.at(point).join(",")).join(" ");
  }

  /** @param {object} shown  what `page.js` holds: zones, picture, lines, found, chosen, point, draft, acts */
  draw(shown) {
    const { zones, picture, lines, found, chosen, draft, moving } = shown;
    const order = zones
      .map((zone, place) => ({ zone, place }))
      .filter(({ zone }) => zone.points.length > 1)
      .sort((a, b) => b.zone.ended - a.zone.ended || a.zone.layer - b.zone.layer);
    this.svg.replaceChildren(
      hatches(this.mm),
      ...(picture ? this.under(picture) : lines.map((line) => this.line(line))),
      ...found.gaps.flatMap((gap) => gap.pieces.map((piece) => this.patch(piece, "gap"))),
      ...order.map(({ zone, place }) => this.zone(zone, place, place === chosen)),
      ...found.overlaps.flatMap((pair) => pair.pieces.map((piece) => this.patch(piece, "overlap"))),
      ...order
        .filter(({ zone }) => !zone.ended)
        .map(({ zone, place }) =>
          this.label(zone, (!(moving && place === chosen) && found.free.get(place)) || boxOf(zone.points)),
        ),
      ...(zones[chosen] && !draft ? this.handles(zones[chosen], shown) : []),
      ...(draft ? this.draft(draft) : []),
    );
  }

  under({ sha256, corners: [left, bottom, right, top] }) {
    const [x, y] = this.at([left, top]);
    const place = { x, y, width: right - left, height: top - bottom };
    return [
      made("image", { href: `/photos/${sha256}`, ...place, preserveAspectRatio: "none" }),
      made("rect", { ...place, class: "veil" }),
    ];
  }

  line(points) {
    return made("polyline", { points: this.outline(points), class: "line" });
  }

  patch(piece, kind) {
    return made("polygon", { points: this.outline(cornersOf(piece)), class: kind, "aria-hidden": "true" });
  }

  zone(zone, place, isChosen) {
    const shape = made("polygon", { points: this.outline(zone.points), class: "zone", "data-zone": place });
    if (isChosen) shape.setAttribute("data-now", "");
    if (zone.ended) shape.setAttribute("data-ended", "");
    shape.append(made("title", {}, nameOf(zone)));
    return made("g", {}, made("polygon", { points: this.outline(zone.points), class: "halo" }), shape);
  }

  /** A zone's name in a box, where what lies over the zone leaves most room; its number alone where it does not fit. */
  label(zone, box) {
    const [x, y] = this.at([(box.left + box.right) / 2, (box.bottom + box.top) / 2]);
    const size = LETTER * this.mm;
    const name = `${zone.walk_order} ${nameOf(zone)}`;
    const fits = name.length * size * 0.56 < box.right - box.left;
    const words = fits ? name : String(zone.walk_order);
    return made("text", { x, y: y + size / 3, "font-size": size, class: "label", "aria-hidden": "true" }, words);
  }

  handles(zone, { point, acts }) {
    if (!acts) return [];
    const between = zone.points.map((one, place) => {
      const other = zone.points[(place + 1) % zone.points.length];
      const [x, y] = this.at([(one[0] + other[0]) / 2, (one[1] + other[1]) / 2]);
      return made("circle", { cx: x, cy: y, r: 5 * this.mm, class: "between", "data-between": place });
    });
    const corners = zone.points.map((one, place) => {
      const [x, y] = this.at(one);
      const words = say("Point {place} of {all}: {x}, {y}", {
        place: place + 1,
        all: zone.points.length,
        x: one[0],
        y: one[1],
      });
      const handle = made(
        "g",
        { class: "handle", tabindex: 0, role: "button", "aria-label": words, "data-point": place },
        made("circle", { cx: x, cy: y, r: REACH * this.mm, class: "reach" }),
        made("circle", { cx: x, cy: y, r: HANDLE * this.mm }),
      );
      if (place === point) handle.setAttribute("data-now", "");
      return handle;
    });
    return [...between, ...corners];
  }

  draft({ points, cursor }) {
    const [x, y] = this.at(cursor ?? [0, 0]);
    const arm = 14 * this.mm;
    const cross = cursor
      ? [made("path", { class: "cross", d: `M${x - arm},${y}h${2 * arm}M${x},${y - arm}v${2 * arm}` })]
      : [];
    const dots = points.map((one) => {
      const [cx, cy] = this.at(one);
      return made("circle", { cx, cy, r: HANDLE * this.mm, class: "set" });
    });
    return [made("polyline", { points: this.outline(points), class: "making" }), ...dots, ...cross];
  }
}

function hatches(mm) {
  const hatch = (id, turn, size, ...inside) =>
    made(
      "pattern",
      {
        id,
        width: size * mm,
        height: size * mm,
        patternUnits: "userSpaceOnUse",
        patternTransform: `rotate(${turn})`,
      },
      ...inside,
    );
  return made(
    "defs",
    {},
    hatch("twice", 45, 8, made("rect", { class: "stroke-twice", width: 4 * mm, height: 8 * mm })),
    hatch("bare", 0, 9, made("circle", { class: "dot-bare", cx: 4 * mm, cy: 4 * mm, r: 1.7 * mm })),
  );
}
