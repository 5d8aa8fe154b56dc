// Zones as polygons, in whole millimetres of a view (x right, y up): where they lie over one another, what they leave
// free, and what a point snaps to. Pure; what the server asks of new tables is asked there again.

const LEAST = 1e-6; // mm, below which two heights are one
const NARROW = 0.5; // mm

const turn = ([ax, ay], [bx, by], [cx, cy]) => (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
const edgesOf = (points) => points.map((point, at) => [point, points[(at + 1) % points.length]]);

/** The area of a polygon in mm² (shoelace formula), whichever way round it is told. */
export function areaOf(points) {
  return Math.abs(edgesOf(points).reduce((sum, [[ax, ay], [bx, by]]) => sum + ax * by - bx * ay, 0)) / 2;
}

/** What keeps a list of points from being a plain polygon, "few", "twice", "crossing" or "flat"; "" for nothing. */
export function faultOf(points) {
  if (points.length < 3) return "few";
  if (new Set(points.map(String)).size < points.length) return "twice";
  const edges = edgesOf(points);
  for (let one = 0; one < edges.length; one += 1) {
    for (let two = one + 2; two < edges.length; two += 1) {
      const neighbours = one === 0 && two === edges.length - 1;
      if (!neighbours && touch(...edges[one], ...edges[two])) return "crossing";
    }
  }
  return areaOf(points) === 0 ? "flat" : "";
}

function touch(a, b, c, d) {
  const sides = [turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b)];
  if (!sides.includes(0) && sides[0] > 0 !== sides[1] > 0 && sides[2] > 0 !== sides[3] > 0) return true;
  const ends = [
    [sides[0], a, b, c],
    [sides[1], a, b, d],
    [sides[2], c, d, a],
    [sides[3], c, d, b],
  ];
  return ends.some(([side, p, q, r]) => side === 0 && between(p[0], r[0], q[0]) && between(p[1], r[1], q[1]));
}

const between = (a, b, c) => Math.min(a, c) <= b && b <= Math.max(a, c);

/**
 * The plane cut into trapezoids between level lines, each with the places of the polygons that cover it (even-odd rule):
 * {over, low, high, left: [x at low, x at high], right: likewise}. What no polygon covers is left out.
 */
export function pieces(polygons) {
  const edges = polygons.flatMap((points, owner) =>
    edgesOf(points)
      .filter(([a, b]) => a[1] !== b[1])
      .map(([a, b]) => (a[1] < b[1] ? { a, b, owner } : { a: b, b: a, owner })),
  );
  const levels = levelsOf(edges);
  const found = [];
  for (let at = 1; at < levels.length; at += 1) {
    const [low, high] = [levels[at - 1], levels[at]];
    const middle = (low + high) / 2;
    const here = edges
      .filter(({ a, b }) => a[1] < middle && b[1] > middle)
      .map((edge) => ({ ...edge, x: xAt(edge, middle) }))
      .sort((one, other) => one.x - other.x);
    const over = new Set();
    here.forEach((edge, place) => {
      if (!over.delete(edge.owner)) over.add(edge.owner);
      const next = here[place + 1];
      if (!next || !over.size || next.x - edge.x < LEAST) return;
      const [left, right] = [edge, next].map((side) => [xAt(side, low), xAt(side, high)]);
      found.push({ over: [...over], low, high, left, right });
    });
  }
  return found;
}

const xAt = ({ a, b }, y) => a[0] + ((b[0] - a[0]) * (y - a[1])) / (b[1] - a[1]);

function levelsOf(edges) {
  const all = edges.flatMap(({ a, b }) => [a[1], b[1]]);
  edges.forEach((one, at) => {
    for (const other of edges.slice(at + 1)) {
      if (one.b[1] <= other.a[1] || other.b[1] <= one.a[1]) continue;
      const y = crossing(one, other);
      if (y !== null) all.push(y);
    }
  });
  return all.sort((a, b) => a - b).filter((y, at, sorted) => at === 0 || y - sorted[at - 1] > LEAST);
}

/** The height at which two edges cross, null where they do not or lie along each other. */
function crossing({ a, b }, { a: c, b: d }) {
  const [lowest, highest] = [Math.max(a[1], c[1]), Math.min(b[1], d[1])];
  const gap = (y) => xAt({ a, b }, y) - xAt({ a: c, b: d }, y);
  const [first, last] = [gap(lowest), gap(highest)];
  if (first === 0 || last === 0 || first > 0 === last > 0) return null;
  return lowest + ((highest - lowest) * first) / (first - last);
}

const sizeOf = ({ low, high, left, right }) => ((right[0] - left[0] + right[1] - left[1]) / 2) * (high - low);
const middleOf = ({ low, high, left, right }) => [
  Math.round((left[0] + left[1] + right[0] + right[1]) / 4),
  Math.round((low + high) / 2),
];

/**
 * Which polygons lie over one another: {pair: [place, place], area in mm², pieces}, the largest first. A shared edge or
 * point is none.
 */
export function overlaps(polygons) {
  const pairs = new Map();
  for (const piece of pieces(polygons)) {
    const over = [...piece.over].sort((a, b) => a - b);
    over.forEach((one, at) => {
      for (const other of over.slice(at + 1)) {
        const key = `${one} ${other}`;
        if (!pairs.has(key)) pairs.set(key, { pair: [one, other], area: 0, pieces: [] });
        const pair = pairs.get(key);
        pair.area += sizeOf(piece);
        pair.pieces.push(piece);
      }
    });
  }
  return [...pairs.values()].filter(({ area }) => area > NARROW).sort((a, b) => b.area - a.area);
}

/** What polygons leave free of frames, as connected gaps: {area in mm², at: [x, y], pieces}, the largest first. */
export function gaps(frames, polygons) {
  const free = pieces([...frames, ...polygons]).filter(({ over }) => over.every((place) => place < frames.length));
  const group = free.map((_, at) => at);
  const root = (at) => (group[at] === at ? at : (group[at] = root(group[at])));
  const below = new Map();
  free.forEach((piece, at) => below.set(piece.high, [...(below.get(piece.high) ?? []), at]));
  free.forEach((piece, at) => {
    for (const other of below.get(piece.low) ?? []) {
      const shared = Math.min(piece.right[0], free[other].right[1]) - Math.max(piece.left[0], free[other].left[1]);
      if (shared > LEAST) group[root(at)] = root(other);
    }
    const beside = free[at + 1]; // where one frame ends within another, two free pieces lie side by side
    if (beside?.low === piece.low && [0, 1].every((end) => Math.abs(beside.left[end] - piece.right[end]) < LEAST))
      group[root(at + 1)] = root(at);
  });
  const found = new Map();
  free.forEach((piece, at) => {
    const gap = found.get(root(at)) ?? { area: 0, at: null, pieces: [] };
    gap.area += sizeOf(piece);
    gap.pieces.push(piece);
    found.set(root(at), gap);
  });
  return [...found.values()]
    .map((gap) => ({ ...gap, at: middleOf(gap.pieces.reduce((a, b) => (sizeOf(b) > sizeOf(a) ? b : a))) }))
    .sort((a, b) => b.area - a.area);
}

/** Of each polygon, by its place, the box of the largest piece that none of a higher rank covers. */
export function freest(polygons, ranks) {
  const best = new Map();
  for (const piece of pieces(polygons)) {
    const top = piece.over.reduce((a, b) => (ranks[b] > ranks[a] ? b : a));
    if (sizeOf(piece) <= (best.get(top)?.area ?? 0)) continue;
    const { low, high, left, right } = piece;
    best.set(top, { area: sizeOf(piece), left: Math.max(...left), right: Math.min(...right), bottom: low, top: high });
  }
  return best;
}

/** A piece as the corners of a polygon. */
export const cornersOf = ({ low, high, left, right }) => [
  [left[0], low],
  [right[0], low],
  [right[1], high],
  [left[1], high],
];

/**
 * What a point snaps to within a reach in mm: the nearest point of the polygons, else of their edges; null where none
 * is as near. {at: [x, y] in whole mm, to: "point" or "edge"}.
 */
export function snap(point, polygons, reach) {
  const nearest = (places) =>
    places
      .map((at) => ({ at, far: Math.hypot(at[0] - point[0], at[1] - point[1]) }))
      .filter(({ far }) => far <= reach)
      .sort((a, b) => a.far - b.far)[0];
  const corner = nearest(polygons.flat());
  if (corner) return { at: corner.at, to: "point" };
  const foot = nearest(polygons.flatMap(edgesOf).map((edge) => footOn(edge, point)));
  return foot ? { at: foot.at.map(Math.round), to: "edge" } : null;
}

function footOn([a, b], [x, y]) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const share = Math.min(1, Math.max(0, ((x - a[0]) * dx + (y - a[1]) * dy) / (dx * dx + dy * dy || 1)));
  return [a[0] + share * dx, a[1] + share * dy];
}

/** The box about points: {left, bottom, right, top}; null for none. */
export function boxOf(points) {
  if (!points.length) return null;
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  return { left: Math.min(...xs), bottom: Math.min(...ys), right: Math.max(...xs), top: Math.max(...ys) };
}
