/** Markup that is safe to show: made only by the `html` tag, which escapes every value that is not markup itself. */

import { planOf } from "./language.js";

export class Markup {
  /** @param {string} text */
  constructor(text) {
    this.text = text;
  }

  toString() {
    return this.text;
  }
}

/** @type {Record<string, string>} */
const ESCAPES = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;" };

/** @param {string} text */
export function escapeText(text) {
  return text.replace(/[&<>"']/g, (sign) => ESCAPES[sign]);
}

/**
 * @param {unknown} value
 * @returns {string}
 */
function part(value) {
  if (value instanceof Markup) return value.text;
  if (Array.isArray(value)) return value.map(part).join("");
  if (value === null || value === undefined || value === false) return "";
  return escapeText(String(value));
}

/**
 * Markup with every value escaped, its sentences in the language spoken; arrays are joined; null, undefined and false
 * vanish.
 * @param {TemplateStringsArray} strings
 * @param {...unknown} values
 */
export function html(strings, ...values) {
  const { texts, order } = planOf(strings);
  return new Markup(texts.reduce((text, piece, place) => text + part(values[order[place - 1]]) + piece));
}

/** @type {WeakMap<Element, string>} */
const shown = new WeakMap();

/**
 * Show markup in an element; what shows it already is left alone, so that no button goes away under a thumb for
 * nothing.
 * @param {Element} element
 * @param {Markup} markup
 */
export function render(element, markup) {
  if (shown.get(element) === markup.text) return;
  element.innerHTML = markup.text;
  shown.set(element, markup.text);
}
