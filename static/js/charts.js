// Charts for wide screens: reads each figure from its JSON element, draws it, and ties its points to the table's rows.
// On a phone, without scripts or without plotly nothing is lost: the server's drawing and the table stand already.

import { say } from "./words.js";

const WIDE = "(min-width: 64rem)";
const PRINT = "print";
const CONFIG = { responsive: true, displaylogo: false, displayModeBar: false, scrollZoom: false, doubleClick: false };

// The figures carry the light theme's colours (qc/charts/drawing/palette.py); a page swaps them for its own theme's.
const TOKENS = [
  "ink",
  "quiet",
  "sheet",
  "band",
  "hair",
  "mark",
  "mark-second",
  "mark-signal",
  "mark-limit",
  "mark-fill",
  "mark-fill-second",
];

/** @returns {Map<string, string>} light colour → this theme's colour */
function colours() {
  const root = document.documentElement;
  const now = root.dataset.theme;
  const read = () => {
    const style = getComputedStyle(root);
    return TOKENS.map((token) => style.getPropertyValue(`--${token}`).trim());
  };
  root.dataset.theme = "light";
  const light = read();
  root.dataset.theme = now ?? "light";
  const own = read();
  // --quiet and --mark-limit share a light colour; the first of a pair wins, both read well on the ground.
  return new Map(light.map((colour, place) => [colour, own[place]]).reverse());
}

/** Return the figure with every colour of the light theme swapped. */
export function recoloured(part, map) {
  if (typeof part === "string") return map.get(part) ?? part;
  if (Array.isArray(part)) return part.map((one) => recoloured(one, map));
  if (part && typeof part === "object") {
    return Object.fromEntries(Object.entries(part).map(([key, value]) => [key, recoloured(value, map)]));
  }
  return part;
}

/**
 * While it loads, plotly adds a style element for its maps. No map is drawn here and the page's policy refuses inline
 * styles, which would stand as an error in every reader's console; so that one element is left out.
 */
function withoutMapStyles() {
  const { head } = document;
  head.appendChild = (node) =>
    node.nodeName === "STYLE" && node.textContent.includes(".maplibregl-")
      ? node
      : Node.prototype.appendChild.call(head, node);
  return () => delete head.appendChild;
}

/** Load plotly once, from our own server; resolves with it, rejects if it does not come. */
let loading = null;
function plotly(src) {
  loading ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    const restore = withoutMapStyles();
    script.src = src;
    script.defer = true;
    script.addEventListener("load", () => {
      restore();
      resolve(globalThis.Plotly);
    });
    script.addEventListener("error", () => {
      restore();
      reject(new Error(say("the chart script did not load")));
    });
    document.head.append(script);
  });
  return loading;
}

/** Figures stand in the page, or all of them at one address of its own, asked for once and only at a desk. */
let fetching = null;
async function figureOf(id) {
  const element = document.querySelector(`script[data-figure="${id}"]`);
  if (element) return JSON.parse(element.textContent);
  fetching ??= fetch(document.querySelector("[data-figures]").dataset.figures).then((answer) => {
    if (!answer.ok) throw new Error(say("the figures did not come: {status}", { status: answer.status }));
    return answer.json();
  });
  const figure = (await fetching)[id];
  if (!figure) throw new Error(say("there is no figure of it"));
  return figure;
}

async function draw(Plotly, place) {
  const id = place.dataset.chart;
  const { data, layout } = recoloured(await figureOf(id), colours());
  const drawing = document.querySelector(`[data-drawing="${id}"]`);
  const height = drawing.offsetHeight || place.offsetHeight; // the chart takes the drawing's room, so nothing moves
  drawing.hidden = true;
  place.hidden = false;
  place.style.minHeight = "0";
  place.style.height = `${height}px`;
  await Plotly.react(place, data, { ...layout, height }, CONFIG);
}

/** @returns {Map<string, {curveNumber: number, pointNumber: number}>} a row's key → the first mark that carries it */
function marksOf(place) {
  const found = new Map();
  place.data.forEach(({ customdata }, curveNumber) =>
    customdata?.forEach((key, pointNumber) => {
      if (key && !found.has(key)) found.set(key, { curveNumber, pointNumber });
    }),
  );
  return found;
}

/** Arrow keys go from row to row; the chart shows the row's point. A click on a point goes to its row. */
function tie(Plotly, place) {
  const id = place.dataset.chart;
  const rows = [...document.querySelectorAll(`table[data-of="${id}"] tr[data-mark]`)];
  if (!rows.length) return;
  const marks = marksOf(place);
  const show = (row) => {
    try {
      Plotly.Fx.hover(place, [marks.get(row.dataset.mark)]);
    } catch {
      // A point outside the drawn range has no hover; the row itself still says everything.
      Plotly.Fx.unhover(place);
    }
  };
  const go = (from, step) => {
    const to = rows[Math.min(rows.length - 1, Math.max(0, rows.indexOf(from) + step))];
    for (const row of rows) row.tabIndex = row === to ? 0 : -1;
    let folded = to.closest("details:not([open])"); // the table, and its rows beyond the first few: none takes focus
    for (; folded; folded = to.closest("details:not([open])")) folded.open = true;
    to.focus();
  };
  rows.forEach((row, index) => {
    row.tabIndex = index === 0 ? 0 : -1;
    row.addEventListener("focus", () => show(row));
    row.addEventListener("blur", () => Plotly.Fx.unhover(place));
    row.addEventListener("keydown", (event) => {
      const step = { ArrowDown: 1, ArrowUp: -1, Home: -rows.length, End: rows.length }[event.key];
      if (step === undefined) return;
      event.preventDefault();
      go(row, step);
    });
  });
  place.on("plotly_click", ({ points: [point] }) => {
    const row = rows.find((one) => one.dataset.mark === point.customdata);
    if (row) go(row, 0);
  });
  document.querySelector(`[data-keys="${id}"]`).hidden = false;
}

/** Draw the charts that are in view or near it, each once; a wide page of twenty charts opens at once. */
function watch(Plotly, places) {
  const drawn = new Set();
  const drawOnce = async (place) => {
    if (drawn.has(place)) return;
    drawn.add(place);
    await draw(Plotly, place);
    tie(Plotly, place);
  };
  const seen = new IntersectionObserver(
    (entries) => {
      for (const entry of entries) {
        if (entry.isIntersecting) {
          const place = entry.target.querySelector("[data-chart]");
          seen.unobserve(entry.target);
          drawOnce(place).catch((error) => tell(place, error));
        }
      }
    },
    { rootMargin: "400px" },
  );
  for (const place of places) seen.observe(place.closest("[data-picture]"));
  document.addEventListener("theme-changed", () => {
    for (const place of drawn) draw(Plotly, place).catch((error) => tell(place, error));
  });
}

/** The drawing of the server stays; a line under it says why there is no chart. */
function tell(place, error) {
  place.hidden = true;
  document.querySelector(`[data-drawing="${place.dataset.chart}"]`).hidden = false;
  const hint = document.querySelector(`[data-hint="${place.dataset.chart}"]`);
  hint.textContent = say("The larger chart could not be drawn ({why}); the drawing shows the same numbers.", {
    why: error.message,
  });
  hint.hidden = false;
}

/** Draw the page's charts if the screen is wide enough. src: where plotly's script is. */
export async function drawCharts(src) {
  const places = [...document.querySelectorAll("[data-chart]")];
  if (!places.length || matchMedia(PRINT).matches) return;
  const wide = matchMedia(WIDE);
  if (!wide.matches) {
    wide.addEventListener("change", () => drawCharts(src), { once: true });
    return;
  }
  try {
    watch(await plotly(src), places);
  } catch (error) {
    for (const place of places) tell(place, error);
  }
}
