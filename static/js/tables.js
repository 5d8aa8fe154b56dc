// Tables at a desk: sorted by a column, narrowed by a word, copied, saved as CSV, their heads kept in sight.
// Without this script they stand as the page wrote them; a phone does not get it (its tables are blocks).

import { decimalSign, say } from "./words.js";

const DESK = "(min-width: 48rem)";
const LEAST_ROWS = 4; // fewer are read at a glance
const SAID_MS = 2000;
const ROOM = 640; // px: in less the tools would lie on the caption's words

// Without case and marks, so that "tur" finds Tür and "strasse" Straße (Unicode's decomposition, UAX #15).
function folded(text) {
  return text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "").replaceAll("ß", "ss");
}

/** One table of the page with the rows that stand folded below it. */
class Table {
  constructor(sheet) {
    this.sheet = sheet;
    const more = sheet.nextElementSibling;
    this.folded = more?.matches("details.more") ? more : null;
    this.tables = [sheet, this.folded].filter(Boolean).map((place) => place.querySelector("table"));
    this.bodies = this.tables.map((table) => table.tBodies[0]);
    this.heads = [...this.tables[0].tHead.rows[0].cells];
    this.rows = this.bodies.flatMap((body) => [...body.rows]);
    this.first = this.bodies[0].rows.length; // so many stand before the fold, in any order
    this.sorted = null;
  }

  /** Whether each row has one cell under each head, so that a column is one thing. */
  isPlain() {
    return this.rows.every((row) => row.cells.length === this.heads.length);
  }

  get name() {
    return this.tables[0].caption?.textContent.trim() ?? "";
  }

  order(rows) {
    rows.forEach((row, at) => this.bodies[at < this.first ? 0 : this.bodies.length - 1].append(row));
  }

  /** Sorts by a column: numbers largest first, words from A; again the other way; a third time as the page has it. */
  sort(column) {
    const numeric = this.isNumeric(column);
    const begins = numeric ? "descending" : "ascending";
    const turned = numeric ? "ascending" : "descending";
    const now = this.sorted?.column === column ? this.sorted.way : "";
    const way = now === begins ? turned : now === turned ? "" : begins;
    this.sorted = way ? { column, way } : null;
    for (const table of this.tables) {
      [...table.tHead.rows[0].cells].forEach((head, at) => {
        if (at === column && way) head.setAttribute("aria-sort", way);
        else head.removeAttribute("aria-sort");
      });
    }
    this.order(
      way ? [...this.rows].sort((a, b) => compared(a.cells[column], b.cells[column], numeric, way)) : this.rows,
    );
  }

  isNumeric(column) {
    const told = this.rows.map((row) => worded(row.cells[column])).filter(Boolean);
    return told.length > 0 && told.every((text) => numberOf(text) !== null);
  }

  /** Shows the rows that hold every one of the words, and opens the fold; returns how many of how many. */
  narrow(text) {
    const words = folded(text).split(/\s+/).filter(Boolean);
    for (const row of this.rows) {
      const told = folded(row.textContent);
      row.hidden = !words.every((word) => told.includes(word));
    }
    if (words.length && this.folded) this.folded.open = true;
    return [this.shown().length, this.rows.length];
  }

  shown() {
    return this.bodies.flatMap((body) => [...body.rows]).filter((row) => !row.hidden);
  }

  /** The heads and the rows that are shown, as they stand. */
  cells() {
    const line = (cells) => [...cells].map((cell) => said(cell));
    return [line(this.heads), ...this.shown().map((row) => line(row.cells))];
  }
}

function said(cell) {
  return cell.textContent.replace(/\s+/g, " ").trim();
}

/** A cell's words, "" for a cell that says that there is nothing. */
function worded(cell) {
  const text = said(cell);
  return /^[–—-]?$/.test(text) ? "" : text;
}

const NUMBER = new RegExp(`^[−+-]?\\d+(?:[ \u00a0\u202f]\\d{3})*(?:\\${decimalSign()}\\d+)?(?![\\d:-])`);
const ABOUT = /^(?:[<>≤≥~]|about|at most|at least|etwa|rund|höchstens|mindestens) */;

/** The number that a cell begins with, null where it begins with none; blanks between thousands are skipped. */
function numberOf(text) {
  const found = NUMBER.exec(text.replace(ABOUT, ""));
  return found
    ? Number(
        found[0]
          .replace(/[ \u00a0\u202f+]/g, "")
          .replace("−", "-")
          .replace(decimalSign(), "."),
      )
    : null;
}

function compared(a, b, numeric, way) {
  const [left, right] = [worded(a), worded(b)];
  if (!left || !right) return Number(!left) - Number(!right); // what says nothing stands last, either way
  const [from, to] = [a, b].map((cell) => cell.querySelector("time")?.dateTime);
  const order =
    from && to
      ? from.localeCompare(to)
      : numeric
        ? numberOf(left) - numberOf(right)
        : left.localeCompare(right, undefined, { numeric: true });
  return way === "ascending" ? order : -order;
}

/** What a spreadsheet would take for a formula is made text, in a file and on the clipboard alike. */
function harmless(text) {
  return /^[=@\t\r]/.test(text) || (/^[+-]/.test(text) && Number.isNaN(Number(text))) ? `'${text}` : text;
}

/** A cell of a CSV: quoted where it must be. */
function csvCell(text) {
  const safe = harmless(text);
  return /[",\n;]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

function save(table) {
  const text = table
    .cells()
    .map((line) => line.map(csvCell).join(","))
    .join("\r\n");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([`\ufeff${text}\r\n`], { type: "text/csv" }));
  link.download = `${(table.name || document.title)
    .replace(/[^\p{L}\p{N}]+/gu, "-")
    .slice(0, 60)
    .replace(/^-|-$/g, "")}.csv`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

async function copy(table) {
  await navigator.clipboard.writeText(
    table
      .cells()
      .map((line) => line.map(harmless).join("\t"))
      .join("\n"),
  );
}

/** A key that says for a moment what came of it. */
function key(label, done, act) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = label;
  button.addEventListener("click", async () => {
    try {
      await act();
      button.textContent = done;
    } catch (why) {
      button.textContent = say("Not done: {why}", { why: why.message });
    }
    setTimeout(() => (button.textContent = label), SAID_MS);
  });
  return button;
}

// Each table's word stands in the address, behind the page's own place: a page that is sent on shows the same rows.
const wordOf = (number) => new RegExp(`(?:^|&)narrow${number}=([^&]*)`);

function keepWord(number, word) {
  const others = location.hash.slice(1).replace(wordOf(number), "").replace(/^&/, "");
  const told = word ? `narrow${number}=${encodeURIComponent(word)}` : "";
  const hash = [others, told].filter(Boolean).join("&");
  history.replaceState(history.state, "", hash ? `#${hash}` : location.pathname + location.search);
}

function keptWord(number) {
  const found = wordOf(number).exec(location.hash.slice(1));
  if (!found) return "";
  try {
    return decodeURIComponent(found[1]);
  } catch {
    return ""; // an address that somebody cut off narrows nothing
  }
}

/** number: the table's place on the page, for its word in the address. */
function tools(table, number) {
  const place = document.createElement("div");
  place.className = "table-tools no-print";
  const field = document.createElement("input");
  field.type = "search";
  field.placeholder = say("Narrow");
  field.setAttribute("aria-label", say("Narrow by a word: {table}", { table: table.name }));
  const count = document.createElement("span");
  count.setAttribute("role", "status");
  const narrow = () => {
    const [shown, all] = table.narrow(field.value);
    count.textContent = field.value.trim() ? say("{shown} of {all}", { shown, all }) : "";
  };
  field.addEventListener("input", () => {
    narrow();
    keepWord(number, field.value.trim());
  });
  field.value = keptWord(number);
  if (field.value) narrow();
  place.append(
    count,
    field,
    key(say("Copy"), say("Copied"), () => copy(table)),
    key("CSV", say("Saved"), () => save(table)),
  );
  return place;
}

function sortable(table) {
  for (const own of table.tables) {
    [...own.tHead.rows[0].cells].forEach((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "sort";
      button.append(...head.childNodes);
      button.addEventListener("click", () => table.sort(column));
      head.append(button);
    });
  }
}

/** A table that needs no sideways scroll lets its head stay at the top of the window. */
function keepHead(sheet) {
  sheet.toggleAttribute("data-fits", sheet.scrollWidth <= sheet.clientWidth);
}

function prepare() {
  const sheets = [...document.querySelectorAll(".sheet")].filter((sheet) => !sheet.closest("details.more"));
  for (const [number, sheet] of sheets.entries()) {
    if (!sheet.querySelector("table")?.tHead) continue;
    const table = new Table(sheet);
    if (!table.isPlain() || table.rows.length < LEAST_ROWS) continue;
    sortable(table);
    // Folded away it has no width yet.
    if (sheet.clientWidth >= ROOM || !sheet.clientWidth) sheet.prepend(tools(table, number));
    keepHead(sheet);
    new ResizeObserver(() => keepHead(sheet)).observe(sheet);
  }
}

if (matchMedia(DESK).matches) prepare();
