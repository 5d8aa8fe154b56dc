/**
 * The picture of a view under its zones: a veil keeps words and lines legible over any of it, a light edge goes along the
 * zones' lines. Until it is there the outlines stand.
 */

import { bent } from "../lib/view-pictures.js";

/** @import {Laid} from "../lib/shapes" */

export { keepPictures } from "../lib/view-pictures.js";

const SVG = "http://www.w3.org/2000/svg";
const MOST = 4;

/** @type {Map<string, string>} */
const urls = new Map(); // the latest few, so that a drawing drawn anew has its picture before it is painted

/**
 * Lay the picture under the drawing on the screen.
 * @param {Laid} laid
 */
export async function lay(laid) {
  const { picture, map } = laid;
  const drawing = document.querySelector("svg.drawing");
  if (!drawing || drawing.hasAttribute("data-pictured")) return;
  const key = `${picture.sha256} ${picture.corners} ${map.width} ${map.height} ${map.stops}`;
  let url = urls.get(key);
  if (!url) {
    const blob = await bent(laid);
    if (!blob) return;
    url = URL.createObjectURL(blob);
    urls.set(key, url);
    for (const [old, gone] of [...urls].slice(0, -MOST)) {
      urls.delete(old);
      URL.revokeObjectURL(gone);
    }
  }
  // Gone elsewhere meanwhile, or laid by another call.
  if (!drawing.isConnected || drawing.hasAttribute("data-pictured")) return;
  drawing.querySelector(".outlines")?.after(under(map, url));
  drawing.toggleAttribute("data-pictured", true);
}

/**
 * @param {Laid["map"]} map
 * @param {string} url
 */
function under({ drawn, width, height }, url) {
  const lines = drawn.map(({ points }) => `M${points.map((each) => each.map((px) => px.toFixed(1))).join(" ")}Z`);
  const group = element("g", { class: "pictured", "aria-hidden": "true" });
  group.append(
    element("image", { href: url, width, height, preserveAspectRatio: "none" }),
    element("rect", { class: "veil", width, height }),
    element("path", { d: lines.join("") }),
  );
  return group;
}

/**
 * @param {string} name
 * @param {Record<string, string | number>} attributes
 */
function element(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  return made;
}
