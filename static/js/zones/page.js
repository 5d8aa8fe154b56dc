// The page on which a view's zones are drawn: by mouse, finger and keys. What is drawn is kept in this browser until it
// is in force; it is put in force by the form of the tables.

import { figure, say, tongue } from "../words.js";
import { boxOf, faultOf, freest, gaps, overlaps, snap } from "./geometry.js";
import {
  Drawing,
  faultWords,
  moved,
  nameOf,
  newZone,
  same,
  withName,
  withNewNames,
  withOption,
  withPointAfter,
  withPointAt,
  withoutPoint,
} from "./drawing.js";
import { keep, kept, letGo } from "./kept.js";
import { Sheet } from "./sheet.js";

const SNAP_PX = 12;
const STILL_PX = 6;
const LEAST_GAP = 100; // mm²
const MOST_TOLD = 12;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const WHOLE = ["walk_order", "layer"];

const root = document.querySelector("[data-drawing]");
const told = JSON.parse(root.dataset.drawing);
const part = (name) => root.querySelector(`[data-${name}]`);
const tool = (name) => root.querySelector(`[data-tool="${name}"]`);
const inForce = { zones: told.zones, picture: told.picture, languages: told.languages };
const NAME = `zones ${told.person} ${told.model} ${told.view}`;

let base = told.base;
let drawing = new Drawing(inForce);
let live = drawing.copy(); // what is shown, also while something is being moved
let found = { overlaps: [], gaps: [], free: new Map() };
let chosen = -1;
let point = -1;
let draft = null; // a zone that is being drawn: {points, cursor}
let drag = null;

const sheet = new Sheet(part("sheet"), part("paper"));

// ---- showing

function show() {
  const focus = document.activeElement?.dataset?.point;
  sheet.draw({ ...live, lines: told.lines, found, chosen, point, draft, moving: !!drag, acts: told.acts });
  if (focus !== undefined) (root.querySelector(`[data-point="${point}"]`) ?? sheet.svg).focus({ preventScroll: true });
}

function showAll() {
  live = drawing.copy();
  if (!live.zones[chosen]) chosen = -1;
  if (chosen < 0 || point >= live.zones[chosen].points.length) point = -1;
  look();
  list();
  fields();
  corners();
  for (const name of ["undo", "redo"])
    if (tool(name)) tool(name).disabled = !(name === "undo" ? drawing.past : drawing.future).length;
  show();
}

/** Find what lies twice and what lies bare, and tell it in words too. */
function look() {
  const sound = live.zones.filter((zone) => !zone.ended && !faultOf(zone.points));
  const layers = [...new Set(sound.map((zone) => zone.layer))];
  const twice = layers.flatMap((layer) => {
    const own = sound.filter((zone) => zone.layer === layer);
    return overlaps(own.map((zone) => zone.points)).map((each) => ({ ...each, zones: each.pair.map((at) => own[at]) }));
  });
  const box = boxOf(sound.flatMap((zone) => zone.points));
  const span = box && [
    [box.left, box.bottom],
    [box.right, box.bottom],
    [box.right, box.top],
    [box.left, box.top],
  ];
  const frames = told.bodies.length ? told.bodies : span ? [span] : [];
  const bare = gaps(
    frames,
    sound.map((zone) => zone.points),
  ).filter((gap) => gap.area >= LEAST_GAP);
  const room = freest(
    sound.map((zone) => zone.points),
    sound.map((zone) => zone.layer),
  );
  const free = new Map([...room].map(([at, box]) => [live.zones.indexOf(sound[at]), box]));
  found = { overlaps: twice, gaps: bare, free };
  const words = [
    ...live.zones.filter((zone) => faultOf(zone.points)).map((zone) => ["fault", faultWords(zone, nameOf(zone))]),
    ...twice.map(({ zones: [one, other], area }) => [
      "overlap",
      say("{one} and {other} lie over one another ({size}) in layer {layer}: part them, or put one in a layer above.", {
        one: nameOf(one),
        other: nameOf(other),
        size: size(area),
        layer: one.layer,
      }),
    ]),
    ...bare.map(({ area, at }) => [
      "gap",
      say("Nothing lies about {at} ({size}): a touch there finds no zone.", { at: at.join(", "), size: size(area) }),
    ]),
  ];
  const word = { fault: say("Wrong"), overlap: say("Twice"), gap: say("Bare") };
  const lines = words.slice(0, MOST_TOLD).map(([kind, text]) => item("li", text, { kind, word: word[kind] }));
  if (words.length > MOST_TOLD) lines.push(item("li", say("and {number} more", { number: words.length - MOST_TOLD })));
  part("found").replaceChildren(...(lines.length ? lines : [item("li", say("None."))]));
}

const size = (area) => (area >= 10_000 ? `${figure(area / 1e6, 2)} m²` : `${(area / 100).toFixed(0)} cm²`);

function item(name, text, data = {}) {
  const made = Object.assign(document.createElement(name), { textContent: text });
  Object.assign(made.dataset, data);
  return made;
}

function list() {
  const order = live.zones
    .map((zone, place) => ({ zone, place }))
    .sort((a, b) => a.zone.ended - b.zone.ended || a.zone.walk_order - b.zone.walk_order);
  const focused = document.activeElement?.dataset?.choose;
  part("list").replaceChildren(
    ...order.map(({ zone, place }) => {
      const marks = [
        zone.id ? "" : say("new"),
        zone.ended ? say("ended") : "",
        zone.layer ? say("layer {layer}", zone) : "",
        zone.options.length ? say("only with {options}", { options: optionsOf(zone) }) : "",
      ];
      const words = [`${zone.walk_order} ${nameOf(zone)}`, ...marks.filter(Boolean)].join(", ");
      const key = item("button", words, { choose: place });
      key.type = "button";
      key.setAttribute("aria-pressed", String(place === chosen));
      const line = document.createElement("li");
      line.append(key);
      return line;
    }),
  );
  if (focused !== undefined) root.querySelector(`[data-choose="${focused}"]`)?.focus({ preventScroll: true });
}

const optionsOf = (zone) =>
  told.options
    .filter(({ code }) => zone.options.includes(code))
    .map(({ name }) => name)
    .join(", ");

function fields() {
  const zone = live.zones[chosen];
  part("chosen-name").textContent = zone ? nameOf(zone) : say("No zone chosen");
  for (const field of root.querySelectorAll("[data-field]")) {
    const name = field.dataset.field;
    field.value = zone ? zone[name] : "";
    field.disabled = !told.acts || !zone || (zone.id !== "" && ["key", "kind"].includes(name));
  }
  names(zone);
  for (const tick of root.querySelectorAll("[data-option]")) {
    tick.checked = !!zone?.options.includes(tick.dataset.option);
    tick.disabled = !told.acts || !zone;
  }
  for (const key of part("chosen").querySelectorAll("[data-act]")) key.disabled = !zone;
  part("fixed").hidden = !zone?.id;
  const fault = zone ? faultWords(zone, say("This zone")) : "";
  part("fault").hidden = !fault;
  part("fault").textContent = fault;
  const end = root.querySelector('[data-act="end"]');
  if (end)
    end.textContent =
      zone && !zone.id ? say("Take the zone out") : zone?.ended ? say("Take the zone up again") : say("End the zone");
}

/** A field for the zone's name in each further language that the plant has or this drawing began. */
function names(zone) {
  const place = part("names");
  const shown = [...place.querySelectorAll("[data-tag]")].map(({ dataset }) => dataset.tag);
  if (!same(shown, live.languages)) place.replaceChildren(...live.languages.map(nameField));
  for (const field of place.querySelectorAll("[data-tag]")) {
    field.value = zone?.names[field.dataset.tag] ?? "";
    field.disabled = !told.acts || !zone;
  }
  if (part("language")) part("language").disabled = !zone;
}

function nameField(tag, at) {
  const label = item("label", say("Name in {language}", { language: languageOf(tag) }));
  label.htmlFor = `zone-name-${at}`;
  const field = Object.assign(document.createElement("input"), {
    id: label.htmlFor,
    maxLength: 80,
    autocomplete: "off",
  });
  field.dataset.tag = tag;
  field.lang = tag;
  const line = Object.assign(document.createElement("div"), { className: "field" });
  line.append(label, field);
  return line;
}

/** A language as the page's reader calls it, with its tag; what is no tag is told as it stands. */
function languageOf(tag) {
  try {
    const name = new Intl.DisplayNames(tongue(), { type: "language" }).of(tag);
    return name === tag ? tag : `${name} (${tag})`;
  } catch {
    return tag; // the check tells what is wrong with it, in its own words
  }
}

function corners() {
  part("picture").hidden = !live.picture;
  for (const field of root.querySelectorAll("[data-corner]")) {
    if (live.picture) field.value = live.picture.corners[Number(field.dataset.corner)];
    field.disabled = !told.acts;
  }
}

function tell(words) {
  part("said").textContent = words;
}

// ---- changing

/** Take a changed copy as the drawing and keep it in this browser. */
function take(changed) {
  if (drawing.keep(changed)) store();
  showAll();
}

function store() {
  if (!told.acts) return;
  if (same(essence(drawing.copy()), essence(inForce))) return letGo(NAME);
  const at = new Date().toLocaleString(tongue() === "en" ? "en-GB" : tongue(), {
    dateStyle: "medium",
    timeStyle: "short",
  });
  if (!keep(NAME, { base, from: inForce, drawing: drawing.copy(), at }))
    tell(say("This browser keeps nothing: do not close the page before the drawing is in force."));
}

function change(place, zone) {
  const changed = drawing.copy();
  changed.zones[place] = zone;
  take(changed);
}

const others = () => live.zones.filter((zone, place) => place !== chosen && !zone.ended).map((zone) => zone.points);

/** What a place becomes where it snaps: to a point, else an edge, of a neighbour or of the picture. */
function snapped(place, reach = SNAP_PX * sheet.mm) {
  const [left, bottom, right, top] = live.picture?.corners ?? [];
  const edge = live.picture
    ? [
        [
          [left, bottom],
          [right, bottom],
          [right, top],
          [left, top],
        ],
      ]
    : [];
  return snap(place, [...others(), ...edge], reach);
}

const free = (place) => (tool("snap")?.checked && snapped(place)?.at) || place;
const where = ([x, y]) => `${x}, ${y} mm`;
const pointWords = (zone) =>
  say("Point {place} of {all}: {where}", {
    place: point + 1,
    all: zone.points.length,
    where: where(zone.points[point]),
  });

function choose(place, at = -1) {
  chosen = place;
  point = at;
  showAll();
  if (live.zones[place])
    tell(at < 0 ? say("{zone} chosen", { zone: nameOf(live.zones[place]) }) : pointWords(live.zones[place]));
}

function begin() {
  const { left, right, bottom, top } = sheet.box;
  draft = { points: [], cursor: [Math.round((left + right) / 2), Math.round((bottom + top) / 2)] };
  chosen = point = -1;
  drawTools();
  showAll();
  sheet.svg.focus();
  tell(
    say("Touch each corner in turn. By keys: arrows move the cross, space sets a corner, Enter closes, Escape leaves."),
  );
}

function addCorner(place) {
  const at = free(place);
  const first = draft.points[0];
  if (draft.points.length > 2 && Math.hypot(at[0] - first[0], at[1] - first[1]) <= SNAP_PX * sheet.mm) return close();
  if (!draft.points.some((one) => same(one, at))) draft.points.push(at);
  draft.cursor = at;
  tell(say("Corner {number}: {where}", { number: draft.points.length, where: where(at) }));
  drawTools();
  show();
}

function close() {
  if (draft.points.length < 3)
    return tell(say("A zone needs 3 corners; it has {number}.", { number: draft.points.length }));
  const changed = drawing.copy();
  changed.zones.push(newZone(changed.zones, draft.points));
  draft = null;
  chosen = changed.zones.length - 1;
  drawTools();
  take(changed);
  tell(say("The zone is closed. Give it a name, a shared key and a kind."));
  root.querySelector('[data-field="name"]').focus();
}

function leave() {
  draft = null;
  drawTools();
  showAll();
  tell(say("Not drawn."));
}

function drawTools() {
  tool("draw").disabled = !!draft;
  tool("cancel").disabled = !draft;
  tool("close").disabled = !draft || draft.points.length < 3;
}

function step(back) {
  if (!(back ? drawing.undo() : drawing.redo()))
    return tell(back ? say("Nothing to undo.") : say("Nothing to do again."));
  store();
  showAll();
  tell(back ? say("Undone.") : say("Done again."));
}

const ACTS = {
  language() {
    const tag = part("language").value.trim();
    if (!tag) return tell(say("Write the tag of a language first, such as de, pl or pt-BR."));
    const changed = drawing.copy();
    changed.languages = [...new Set([...changed.languages, tag])];
    take(changed);
    part("language").value = "";
    root.querySelector(`[data-tag="${CSS.escape(tag)}"]`).focus();
    return tell(say("Name in {language}", { language: languageOf(tag) }));
  },
  insert() {
    const place = Math.max(point, 0);
    point = place + 1;
    change(chosen, withPointAfter(live.zones[chosen], place));
    tell(pointWords(live.zones[chosen]));
  },
  delete() {
    if (point < 0) return tell(say("Choose a point first."));
    if (live.zones[chosen].points.length < 4) return tell(say("A zone keeps 3 points at least."));
    const place = point;
    const focused = document.activeElement?.dataset?.point !== undefined;
    point = Math.max(0, place - 1);
    change(chosen, withoutPoint(live.zones[chosen], place));
    if (focused) root.querySelector(`[data-point="${point}"]`).focus({ preventScroll: true });
    tell(
      `${say("Deleted; {number} points are left.", { number: live.zones[chosen].points.length })} ${pointWords(live.zones[chosen])}`,
    );
  },
  snap() {
    if (point < 0) return tell(say("Choose a point first."));
    const zone = live.zones[chosen];
    const near = snapped(zone.points[point], Infinity);
    if (!near) return tell(say("There is nothing to snap to."));
    change(chosen, withPointAt(zone, point, near.at));
    tell(
      `${near.to === "point" ? say("Snapped to a point.") : say("Snapped to an edge.")} ${pointWords(live.zones[chosen])}`,
    );
  },
  end() {
    const zone = live.zones[chosen];
    if (zone.id) return change(chosen, { ...zone, ended: !zone.ended });
    const changed = drawing.copy();
    changed.zones.splice(chosen, 1);
    chosen = point = -1;
    take(changed);
    return tell(say("Taken out. Undo brings it back."));
  },
  bare() {
    take({ ...drawing.copy(), picture: null });
  },
};

const TOOLS = {
  draw: begin,
  close,
  cancel: leave,
  undo: () => step(true),
  redo: () => step(false),
  larger: () => zoomTo(1.4),
  smaller: () => zoomTo(1 / 1.4),
};

function zoomTo(by) {
  sheet.zoom = Math.min(8, Math.max(1, sheet.zoom * by));
  sheet.lay();
  show();
}

// ---- hands and keys

root.addEventListener("click", ({ target }) => {
  const key = target.closest("button");
  if (key?.dataset.tool) TOOLS[key.dataset.tool]?.();
  else if (key?.dataset.act) ACTS[key.dataset.act]();
  else if (key?.dataset.choose) {
    choose(Number(key.dataset.choose));
    part("paper").scrollIntoView({ block: "nearest" });
  }
});

sheet.svg.addEventListener("pointerdown", (event) => {
  if (event.button || !event.isPrimary) return;
  const at = sheet.placeOf(event);
  drag = { at, x: event.clientX, y: event.clientY, still: true, kind: "" };
  const [handle, between, zone] = ["point", "between", "zone"].map((name) => event.target.closest(`[data-${name}]`));
  if (draft || !told.acts) return;
  // Nothing is drawn anew before it moves: a finger's further events go to what it touched first.
  if (handle) {
    point = Number(handle.dataset.point);
    drag.kind = "point";
  } else if (between) {
    live.zones[chosen] = withPointAfter(live.zones[chosen], Number(between.dataset.between));
    point = Number(between.dataset.between) + 1;
    drag.kind = "point";
  } else if (zone && Number(zone.dataset.zone) === chosen) drag.kind = "zone";
  if (!drag.kind) return;
  drag.zone = live.zones[chosen];
  sheet.svg.setPointerCapture(event.pointerId);
  event.preventDefault();
});

// What a finger moves does not also scroll the page; elsewhere on the sheet it does.
sheet.svg.addEventListener(
  "touchstart",
  (event) => {
    if (drag?.kind) event.preventDefault();
  },
  { passive: false },
);

sheet.svg.addEventListener("pointermove", (event) => {
  if (draft && event.pointerType === "mouse") {
    draft.cursor = free(sheet.placeOf(event));
    show();
  }
  if (!drag) return;
  if (Math.hypot(event.clientX - drag.x, event.clientY - drag.y) > STILL_PX) drag.still = false;
  if (!drag.kind || drag.still) return;
  const at = sheet.placeOf(event);
  if (drag.kind === "point") live.zones[chosen] = withPointAt(drag.zone, point, free(at));
  else live.zones[chosen] = carried(drag.zone, at[0] - drag.at[0], at[1] - drag.at[1]);
  show();
});

/** A zone moved, and on to where the nearest of its points snaps. */
function carried(zone, dx, dy) {
  const there = moved(zone, dx, dy);
  if (!tool("snap").checked) return there;
  const near = there.points
    .map((from) => ({ from, to: snapped(from)?.at }))
    .filter(({ to }) => to)
    .map(({ from, to }) => [to[0] - from[0], to[1] - from[1]])
    .sort((a, b) => Math.hypot(...a) - Math.hypot(...b))[0];
  return near ? moved(there, ...near) : there;
}

sheet.svg.addEventListener("pointerup", (event) => {
  const { still, kind } = drag ?? {};
  drag = null;
  if (draft) {
    if (still) addCorner(sheet.placeOf(event));
  } else if (kind && !(kind === "zone" && still)) {
    take({ ...drawing.copy(), zones: live.zones });
    tell(kind === "point" ? pointWords(live.zones[chosen]) : say("{zone} moved", { zone: nameOf(live.zones[chosen]) }));
    if (kind === "point") root.querySelector(`[data-point="${point}"]`)?.focus({ preventScroll: true });
  } else if (still && kind !== "zone") {
    const zone = event.target.closest("[data-zone]");
    choose(zone ? Number(zone.dataset.zone) : -1);
  }
});

sheet.svg.addEventListener("pointercancel", () => {
  drag = null;
  showAll();
});

sheet.svg.addEventListener("focusin", ({ target }) => {
  const place = target.closest("[data-point]")?.dataset.point;
  if (drag || place === undefined || Number(place) === point) return;
  point = Number(place);
  show();
  tell(pointWords(live.zones[chosen]));
});

sheet.svg.addEventListener("keydown", (event) => {
  if (!told.acts || event.ctrlKey || event.metaKey || event.altKey) return;
  const far = Number(tool("step").value) * (event.shiftKey ? 10 : 1);
  const arrow = ARROWS[event.key]?.map((way) => way * far);
  if (arrow) byArrow(arrow);
  else if (draft && event.key === " ") addCorner(draft.cursor);
  else if (draft && event.key === "Enter") close();
  else if (draft && event.key === "Escape") leave();
  else if (chosen >= 0 && event.key === "Insert") ACTS.insert();
  else if (chosen >= 0 && event.key === "Delete") ACTS.delete();
  else if (chosen >= 0 && event.key.toLowerCase() === "s") ACTS.snap();
  else return;
  event.preventDefault();
});

function byArrow([dx, dy]) {
  if (draft) {
    draft.cursor = [draft.cursor[0] + dx, draft.cursor[1] + dy];
    show();
    return tell(say("Cross at {where}", { where: where(draft.cursor) }));
  }
  const zone = live.zones[chosen];
  if (!zone) return tell(say("Choose a zone in the list first."));
  if (point < 0) {
    change(chosen, moved(zone, dx, dy));
    return tell(
      say("{zone} moved; its first point is at {where}", {
        zone: nameOf(zone),
        where: where(live.zones[chosen].points[0]),
      }),
    );
  }
  const [x, y] = zone.points[point];
  change(chosen, withPointAt(zone, point, [x + dx, y + dy]));
  return tell(pointWords(live.zones[chosen]));
}

addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea");
  if (!told.acts || typing || !(event.ctrlKey || event.metaKey)) return;
  const key = event.key.toLowerCase();
  if (key !== "z" && key !== "y") return;
  event.preventDefault();
  step(key === "z" && !event.shiftKey);
});

root.addEventListener("change", ({ target }) => {
  const { field, corner, option, tag } = target.dataset;
  if (corner !== undefined) {
    const changed = drawing.copy();
    changed.picture.corners[Number(corner)] = Math.round(Number(target.value)) || 0;
    take(changed);
    sheet.fit({ ...live, lines: told.lines, length: told.length });
    show();
  } else if (tag !== undefined && live.zones[chosen]) {
    change(chosen, withName(live.zones[chosen], tag, target.value.trim()));
  } else if (option !== undefined && live.zones[chosen]) {
    const codes = told.options.map(({ code }) => code);
    change(chosen, withOption(live.zones[chosen], option, target.checked, codes));
  } else if (field && live.zones[chosen]) {
    const value = WHOLE.includes(field) ? Math.round(Number(target.value)) || 0 : target.value.trim();
    change(chosen, shared({ ...live.zones[chosen], [field]: value }, field));
  }
});

/** A zone with what the other models say of its shared key, where nothing is said yet. */
function shared(zone, field) {
  const known = field === "key" && told.shared.find((one) => one.key === zone.key);
  if (!known) return zone;
  const blank = ["name", "kind", "caution", "options"].filter((name) => !zone[name].length);
  const names = { ...known.names, ...zone.names };
  return { ...zone, ...Object.fromEntries(blank.map((name) => [name, known[name]])), names };
}

part("save")?.addEventListener("submit", ({ target }) => {
  target.elements.base.value = base;
  const { zones, picture } = drawing.copy();
  const stood = [...told.shared, ...inForce.zones];
  target.elements.drawing.value = JSON.stringify({ zones: withNewNames(zones, stood), picture });
});

addEventListener("resize", () => {
  sheet.lay();
  show();
});

// ---- beginning: what was drawn before and is not in force, a picture that was just handed in

/** A drawing with the ids of those of its zones that have come into force since, and with what it says nothing of. */
function known(before) {
  const stood = new Map(inForce.zones.map((zone) => [zone.key, zone]));
  const zones = before.zones.map((zone) => {
    const { id = "", options = [], names = {} } = stood.get(zone.key) ?? {};
    return { options, names, ...zone, id: zone.id || id };
  });
  return { ...before, zones, languages: [...new Set([...told.languages, ...(before.languages ?? [])])] };
}

/** What of a drawing can come into force: a language in which nothing is named is none. */
const essence = ({ zones, picture }) => ({ zones, picture });

function resume() {
  const before = told.acts ? kept(NAME) : null;
  if (!before || same(essence(known(before.drawing)), essence(inForce))) return letGo(NAME);
  drawing.keep(known(before.drawing));
  const isTheirs = before.base !== told.base && !same(essence(before.from), essence(inForce));
  if (isTheirs) base = before.base; // until the person says which is to go on, the server takes neither over the other
  const answers = {
    [say("Begin again from what is in force")]: () => {
      letGo(NAME);
      base = told.base;
      drawing = new Drawing(inForce);
    },
  };
  if (isTheirs)
    answers[say("Go on with mine, over theirs")] = () => {
      base = told.base;
      store();
    };
  part("told").textContent = isTheirs
    ? say(
        "Somebody else has put another drawing of this view in force since you began. Yours of {at} is here; theirs is what you get by beginning again.",
        before,
      )
    : say("Your drawing of {at} is here. It is not in force yet.", before);
  const keys = Object.entries(answers).map(([words, act]) => {
    const key = Object.assign(item("button", words), { type: "button" });
    key.addEventListener("click", () => {
      act();
      part("told").hidden = part("answers").hidden = true;
      showAll();
    });
    return key;
  });
  part("answers").replaceChildren(...keys);
  part("told").hidden = part("answers").hidden = false;
}

resume();
if (told.offered && drawing.copy().picture?.sha256 !== told.offered.sha256) {
  drawing.keep({ ...drawing.copy(), picture: told.offered });
  store();
}
if (told.offered) history.replaceState(null, "", `?model=${told.model}&view=${told.view}`);
sheet.fit({ ...drawing.copy(), lines: told.lines, length: told.length });
showAll();
