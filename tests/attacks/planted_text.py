"""A record and a plant with markup in every text that somebody can write, and whether a page ran or held any of it."""

import csv
import io
from functools import partial

from qc.assets import folder
from qc.domain.acts.kinds import KINDS
from qc.domain.facts.people import SERVER_ROLE, Person
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.domain.unit.release import open_digest
from tests.web.pages.lived_in import LivedIn, code
from tests.web.plant_server import PIN, PlantServer, picture, sha

# Each begins a place where text could be read as something else, and would set the mark if it were.
PAYLOADS = (
    "<img src=planted onerror=window.planted=1>",
    "</script><script>window.planted=1</script>",
    "</textarea></title></style><svg/onload=window.planted=1>",
    '" autofocus onfocus=window.planted=1 x="',
    "' onmouseover=window.planted=1 x='",
    "javascript:window.planted=1//",
    "--><iframe srcdoc='<script>parent.planted=1</script>'>",
    "<a href=javascript:window.planted=1>planted</a>",
    "${window.planted=1}{{window.planted=1}}`",
)
SHORT = PAYLOADS[0]
LONG = " ".join(PAYLOADS)
assert len(SHORT) <= 80
assert len(LONG) <= 500

TABLE_TEXTS = {  # of the plant's tables, the columns that are words for people
    "stations.csv": ("name", "note"),
    "defect_types.csv": ("name", "group_name"),
    "zones.csv": ("name",),
    "tests.csv": ("conditions", "reference", "who"),
    "cautions.csv": ("short", "more", "before_photo", "call"),
}


def text_fields():
    """Return (kind, field) of every field of an operation that takes markup: that is free text."""
    found = set()
    for name, kind in KINDS.items():
        for field, check in {**kind.fields, **kind.optional}.items():
            if check(SHORT) is None:
                found.add((name, field))
    return found


def planted_tables():
    """Return the demo plant's tables with markup after every word that is for people, and the plant."""
    tables = tables_of(folder("demo_data") / "plant")
    for table, columns in TABLE_TEXTS.items():
        rows = list(csv.DictReader(io.StringIO(tables[table])))
        for row in rows:
            row.update({column: _marked(row[column]) for column in columns if row[column]})
        out = io.StringIO()
        writer = csv.DictWriter(out, rows[0].keys(), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        tables[table] = out.getvalue()
    return tables, plant_from_tables(tables)


def _marked(words):
    return f"{words[: 79 - len(SHORT)].strip()} {SHORT}" if len(words) < 80 else f"{words} {SHORT}"


class Planted:
    """A plant with markup in its tables and a record with markup in each text field of each kind. sent: which."""

    def __init__(self, data):
        self.server = PlantServer(data, planted_tables())
        self.lived = LivedIn(self.server)
        self.sent: set[tuple[str, str]] = set()
        self.server.house.people.add(Person("XN1", f"Xan {SHORT}"[:80], "inspector"), PIN)
        self.lived.live()
        self._effective()
        self._without_effect()

    def must(self, kind, role, unit, **body):
        self.sent |= {(kind, field) for field, value in body.items() if value in (LONG, SHORT)}
        return self.lived.phone.must(kind, code(role), unit, **body)

    def _effective(self):
        """Write every text that comes into effect."""
        lived, unit = self.lived, self.lived.ids["planned"]
        look = lived.begin(unit, "T01")
        other = partial(self.must, unit=unit)
        other("unit_moved", "inspector", place=SHORT)
        passing = other("station_passed", "inspector", station="S05")
        other("passing_withdrawn", "inspector", passing=passing, reason=LONG)
        other("zone_not_looked_at", "inspector", inspection=look, zone=self._zone("M50"), reason="weather", note=LONG)
        place = {"inspection": look, "point": "T01", "zone": self._zone("M50"), "type": "PAN-03"}
        defects = [
            other("defect_recorded", "inspector", **place, severity="major", note=LONG, severity_reason=LONG)
            for _ in range(4)
        ]
        other("defect_corrected", "inspector", defect=defects[0], changes={"note": LONG}, reason=LONG)
        other("defect_withdrawn", "inspector", defect=defects[1], why="not_a_defect", reason=LONG)
        photo = picture(48, 32)
        self.server.house.photos.append(sha(photo), 0, len(photo), photo)
        other("photo_attached", "inspector", defect=defects[0], sha256=sha(photo), bytes=len(photo))
        other("photo_withdrawn", "inspector", defect=defects[0], sha256=sha(photo), reason=LONG)
        test = next(one for one in lived.plant.tests_of("M50") if one.kind == "pass" and one.point == "T01")
        told = {"test": test.id, "instrument": "IN-7", "passed": True, "note": LONG, "inspection": look}
        result = other("test_recorded", "inspector", **told)
        other("test_withdrawn", "inspector", result=result, reason=LONG)
        for defect in (defects[0], defects[2], defects[3]):
            other("origin_suspected", "inspector", defect=defect, station="S05")
        other("origin_passed_on", "station_lead", defect=defects[0], station="S06", reason=LONG)
        other("origin_disputed", "station_lead", defect=defects[2], reason=LONG)
        other("origin_disputed", "station_lead", defect=defects[3], reason=LONG)
        other("origin_settled", "quality_manager", defect=defects[2], station="S06", reason=LONG)
        other("repair_done", "repairer", defects=[defects[0]], method="rework", minutes=3, note=LONG)
        other("recheck_failed", "inspector", defect=defects[0], reason=LONG)
        other("unit_cancelled", "planner", reason=LONG)  # shown so on every page
        again = lived.ids["waiting"]
        self.must("unit_cancelled", "planner", again, reason=LONG)
        self.must("unit_taken_up", "planner", again, reason=LONG)
        self._release()
        released = self.lived.ids["released"]
        found = {"zone": self._zone("T36"), "type": "PAN-03", "severity": "minor", "found_day": "2026-03-20"}
        self.must("field_finding", "quality_manager", released, **found, note=LONG)
        noted = {"station": "S05", "change": "method", "from_day": "2026-03-04", "types": []}
        self.must("change_noted", "station_lead", None, **noted, what=LONG[:300])
        self.sent.add(("change_noted", "what"))
        muted = {"station": "S05", "type": "PAN-05", "direction": "up", "until": "2026-04-20"}
        self.must("signal_muted", "quality_manager", None, **muted, reason=LONG)
        for word in ("quarantine_taken", "quarantine_left"):
            aside = lived.phone.make("station_passed", code("inspector"), unit, station="S06")
            assert lived.phone.send(proofs=[None])[0].verdict == "quarantined"
            self.must(word, "quality_manager", None, operation=aside["id"], reason=LONG)

    def _release(self):
        lived = self.lived
        unit = lived.plan(30020)
        lived.test_all(unit)
        for point in ("T01", "T02"):
            lived.present(unit, point)
        look = lived.begin(unit)
        lived.look(unit, look)
        lived.end(unit, look)
        digest = open_digest(self.server.house.reads.unit_story(unit))
        self.must("unit_released", "quality_manager", unit, open_digest=digest, against=LONG[:200])
        self.sent.add(("unit_released", "against"))

    def _without_effect(self):
        """Send each kind with markup in each field, text or not: as refused, and as set aside without a proof."""
        phone, ids = self.lived.phone, self.lived.ids
        for proofs in ({}, {"proofs": [None]}):
            for kind in KINDS.values():
                names = (*kind.fields, *kind.optional)
                # a reason is all that cancelling asks: of one that was released it is refused
                unit = ids["released" if kind.name == "unit_cancelled" else "waiting"]
                phone.make(kind.name, code("quality_manager"), unit, **dict.fromkeys(names, LONG[:200]))
                (verdict,) = phone.send(**proofs)
                assert verdict.verdict in ("refused", "quarantined"), (kind.name, verdict)
                self.sent |= {(kind.name, name) for name in names if not kind.effective}

    def _zone(self, model):
        return next(zone.key for zone in self.lived.plant.zones_of(model) if zone.kind == "panel")


def house_fields():
    """Return the text fields that only the administrator's page, or the console (its own account), writes."""
    own = {SERVER_ROLE, "administrator"}
    return {(kind, field) for kind, field in text_fields() if KINDS[kind].roles <= own or field == "at_console"}
