// A view's drawing as it is being made: zones, the picture under them, undo and redo. Pure: what stands on the screen is
// `page.js`. A zone: {id, key, name, kind, layer, points, walk_order, caution, holds, ended, options, names}; id "" until
// it is in force, options: codes of those of which a unit must have one to be asked for the zone, none asks every unit,
// names: in further languages, by tag; none where the plant's own stands.

import { say, sayMany } from "../words.js";
import { faultOf } from "./geometry.js";

const MOST_STEPS = 200;

export class Drawing {
  /** @param {{zones: object[], picture: object | null}} told */
  constructor(told) {
    this.now = JSON.stringify(told);
    this.past = [];
    this.future = [];
  }

  /** A copy that may be changed; `keep` takes it. */
  copy() {
    return JSON.parse(this.now);
  }

  get zones() {
    return this.copy().zones;
  }

  /** Keep a changed copy as the drawing; one that changes nothing is no step. Returns whether it was one. */
  keep(changed) {
    const text = JSON.stringify(changed);
    if (text === this.now) return false;
    this.past = [...this.past.slice(1 - MOST_STEPS), this.now];
    this.future = [];
    this.now = text;
    return true;
  }

  /** Go a step back; returns whether there was one. */
  undo() {
    if (!this.past.length) return false;
    this.future.push(this.now);
    this.now = this.past.pop();
    return true;
  }

  /** Go a step forward again; returns whether there was one. */
  redo() {
    if (!this.future.length) return false;
    this.past.push(this.now);
    this.now = this.future.pop();
    return true;
  }
}

/** A zone that was just drawn, after all others in the walk, with what the view's other zones do not use. */
export function newZone(zones, points) {
  const walk = Math.max(0, ...zones.map((zone) => zone.walk_order)) + 1;
  const blank = { id: "", key: "", name: "", kind: "", caution: "", holds: "", ended: false, options: [], names: {} };
  return { ...blank, layer: 0, walk_order: walk, points };
}

/** A zone moved as a whole by whole millimetres. */
export const moved = (zone, dx, dy) => ({ ...zone, points: zone.points.map(([x, y]) => [x + dx, y + dy]) });

/** A zone with a point more, half way to the next one. */
export function withPointAfter(zone, place) {
  const [a, b] = [zone.points[place], zone.points[(place + 1) % zone.points.length]];
  const middle = [Math.round((a[0] + b[0]) / 2), Math.round((a[1] + b[1]) / 2)];
  return { ...zone, points: zone.points.toSpliced(place + 1, 0, middle) };
}

/** A zone without one of its points; it keeps three. */
export function withoutPoint(zone, place) {
  return zone.points.length > 3 ? { ...zone, points: zone.points.toSpliced(place, 1) } : zone;
}

/** A zone with one of its points elsewhere. */
export const withPointAt = (zone, place, at) => ({ ...zone, points: zone.points.with(place, at) });

/** A zone asked of units with an option too, or no longer; codes in the order in which the plant tells them. */
export function withOption(zone, code, isAsked, codes) {
  const options = codes.filter((one) => (one === code ? isAsked : zone.options.includes(one)));
  return { ...zone, options };
}

/** A zone with another name in a further language, "" for none. */
export function withName(zone, tag, name) {
  const { [tag]: _, ...names } = zone.names;
  return { ...zone, names: name ? { ...names, [tag]: name } : names };
}

/** Zones as they are handed in: with those names alone that are others than those that stood, "" for one taken away. */
export function withNewNames(zones, stood) {
  const names = new Map(stood.map((zone) => [zone.key, zone.names]));
  return zones.map((zone) => {
    const [before, now] = [names.get(zone.key) ?? {}, zone.names];
    const tags = Object.keys({ ...before, ...now }).filter((tag) => (before[tag] ?? "") !== (now[tag] ?? ""));
    return { ...zone, names: Object.fromEntries(tags.map((tag) => [tag, now[tag] ?? ""])) };
  });
}

/** What a person is told of a zone that has no name yet. */
export const nameOf = (zone) => zone.name || zone.key || say("Zone without a name");

const FAULTS = {
  few: (zone, who) =>
    sayMany(
      "{who} has {number} point; a zone needs at least 3.",
      "{who} has {number} points; a zone needs at least 3.",
      zone.points.length,
      { who },
    ),
  twice: (_, who) => say("{who} names one point twice; move or delete one.", { who }),
  crossing: (_, who) => say("{who} crosses itself; move a point.", { who }),
  flat: (_, who) => say("{who} has no area; its points lie on one line.", { who }),
};

/** What keeps a zone from being a plain polygon, as a sentence of it under the name told; "" for nothing. */
export function faultWords(zone, who) {
  const fault = faultOf(zone.points);
  return fault && FAULTS[fault](zone, who);
}

/** Whether two drawings say the same, in whichever order. */
export const same = (one, other) => canonical(one) === canonical(other);

function canonical(told) {
  return JSON.stringify(told, (_, value) =>
    value && typeof value === "object" && !Array.isArray(value)
      ? Object.fromEntries(Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1)))
      : value,
  );
}
