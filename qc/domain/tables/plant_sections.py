"""The sections of plant.toml read into records: models, views, shifts, holidays, links, what the review asks."""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import fields
from datetime import date, time
from pathlib import PurePosixPath, PureWindowsPath
from types import MappingProxyType
from typing import Any, Literal, cast
from urllib.parse import urlsplit

from qc.domain.facts.operations import label
from qc.domain.numbers.number_form import FIGURES, ISO_LETTERS, NumberForm
from qc.domain.plant.backup_plan import BackupPlan
from qc.domain.plant.drop_plan import DropPlan
from qc.domain.plant.mail_plan import MailPlan, address_fault
from qc.domain.plant.plan_form import COLUMNS, PlanForm, is_day_format
from qc.domain.plant.plant import (
    SEVERITIES,
    VITAL_FEW,
    Links,
    Model,
    Option,
    OwnSeverity,
    ProductionLine,
    Severity,
    Shift,
    Shutdown,
    View,
)
from qc.domain.plant.working_days import LONGEST_SHUTDOWN
from qc.domain.tables.table_rows import DAYS, Faults, Row, keyed, toml_row, toml_rows
from qc.domain.words.speaking import marked, say

PLANT_FILE = "plant.toml"
_PLAN = (*COLUMNS, "day_format")
_MAIL = ("server", "port", "tls", "from", "links", "at")
_MAIL_OPTIONAL = ("user", "password_file", "root", "days", "domains")
_TLS: dict[str, Literal["tls", "starttls", "none"]] = {"tls": "tls", "starttls": "starttls", "none": "none"}
NO_IOQ = marked("letters I, O and Q are not used (ISO 3779)")


def models(faults: Faults, data: Mapping[str, Any], own: NumberForm | None) -> MappingProxyType[str, Model]:
    """Return the models by code. own: the form of the plant's numbers where it says one."""
    optional = {"ended"} if own is None or _holds(own, "digit") else {"ended", "digit"}
    keys = tuple(one.name for one in fields(Model) if one.name not in optional)
    rows = toml_rows(faults, PLANT_FILE, data, "model", keys, optional=tuple(sorted(optional)))
    return keyed((row, "code", (one := model(row, own)).code, one) for row in rows)


def _holds(own: NumberForm, kind: str) -> bool:
    return any(part.kind == kind for part in (*own.chassis, *own.shop))


def model(row: Row, own: NumberForm | None) -> Model:
    """Return one model; its code and digit go into numbers, and hold only what may stand there."""
    found = Model(
        code=row.code("code"),
        name=row.text("name"),
        what=row.text("what"),
        length_mm=row.whole("length_mm", 500, 60_000),
        axles=row.whole("axles", 1, 9),
        mass_kg=row.whole("mass_kg", 1, 60_000),
        digit=row.text("digit", most=1) if row.has("digit") else "",
        ended=row.has("ended") and row.truth("ended"),
    )
    if own is None and (len(found.code) != 3 or set(found.code) - set(FIGURES + ISO_LETTERS)):
        row.fault("code", say("must be 3 capital letters or figures; {no_ioq}", no_ioq=say(NO_IOQ)))
    if own is not None and _holds(own, "model") and set(found.code) - set(own.allowed):
        row.fault(
            "code",
            say(
                "stands in the plant's numbers, which hold figures and {letters}",
                letters=own.letters or say("no letters"),
            ),
        )
    if row.has("digit") and not (found.digit.isascii() and found.digit.isdigit()):
        row.fault("digit", say("must be one figure 0 to 9; it stands in the shop number"))
    return found


def options(faults: Faults, data: Mapping[str, Any]) -> MappingProxyType[str, Option]:
    """Return the options that the plant names, by code; none where it leaves them to its plans."""
    if "option" not in data:
        return MappingProxyType({})
    rows = toml_rows(faults, PLANT_FILE, data, "option", Option.__match_args__)
    return keyed((row, "code", (one := _option(row)).code, one) for row in rows)


def _option(row: Row) -> Option:
    code = unicodedata.normalize("NFC", row.text("code", most=40))
    if code and (why := label()(code)):
        row.fault("code", why)
    return Option(code, row.text("name", most=80))


def lines(faults: Faults, data: Mapping[str, Any]) -> MappingProxyType[str, ProductionLine]:
    """Return the lines on which the plant builds, by code; none where it has one and says nothing of it."""
    if "line" not in data:
        return MappingProxyType({})
    rows = toml_rows(faults, PLANT_FILE, data, "line", ("code", "name"), optional=("ended",))
    found = keyed((row, "code", (one := _line(row)).code, one) for row in rows)
    for row in rows:
        if sum(one.name.casefold() == str(row.cells.get("name", "")).strip().casefold() for one in found.values()) > 1:
            row.fault("name", say("is the name of two lines; names must differ, as plans name lines by them"))
    return found


def _line(row: Row) -> ProductionLine:
    code = unicodedata.normalize("NFC", row.text("code", most=40))
    if code and (why := label()(code)):
        row.fault("code", why)
    return ProductionLine(code, row.text("name", most=80), row.has("ended") and row.truth("ended"))


def severities(faults: Faults, data: Mapping[str, Any]) -> MappingProxyType[str, OwnSeverity]:
    """Return the plant's own severities by code, the gravest first; none where it goes by the three themselves."""
    if "severity" not in data:
        return MappingProxyType({})
    rows = toml_rows(faults, PLANT_FILE, data, "severity", OwnSeverity.__match_args__)
    found = keyed((row, "code", row.code("code"), _severity(row)) for row in rows)
    if rows and not 2 <= len(rows) <= 6:
        faults.note(PLANT_FILE, 0, "severity", len(rows), say("severities of its own; a plant has 2 to 6, or none"))
    ranks = [SEVERITIES.index(one.counts_as) for one in found.values()]
    if ranks != sorted(ranks):
        told = ", ".join(f"{one.code} {one.counts_as}" for one in found.values())
        faults.note(PLANT_FILE, 0, "severity.counts_as", told, say("is not in order; write the gravest first"))
    return found


def _severity(row: Row) -> OwnSeverity:
    counts_as = cast(Severity, row.choice("counts_as", *SEVERITIES))
    return OwnSeverity(str(row.cells.get("code", "")), row.text("name", most=24), counts_as)


def views(faults: Faults, data: Mapping[str, Any]) -> MappingProxyType[str, View]:
    """Return the views by id, in walk-round order."""
    rows = toml_rows(faults, PLANT_FILE, data, "view", View.__match_args__)
    return keyed((row, "id", row.code("id"), view(row)) for row in rows)


def view(row: Row) -> View:
    """Return one view with its edges named in plain words."""
    return View(str(row.cells.get("id", "")), *(row.text(name) for name in ("name", "left", "right", "x0", "y0")))


def shifts(faults: Faults, data: Mapping[str, Any]) -> MappingProxyType[str, Shift]:
    """Return the shifts by id; one whose end is not after its start crosses midnight."""
    keys, optional = ("id", "start", "end", "days"), ("belongs_to", "other_hours")
    rows = toml_rows(faults, PLANT_FILE, data, "shift", keys, optional=optional)
    return keyed((row, "id", row.code("id"), shift(row)) for row in rows)


def shift(row: Row) -> Shift:
    """Return one shift; start and end must differ, on a weekday with hours of its own too."""
    found = Shift(
        str(row.cells.get("id", "")),
        row.clock("start"),
        row.clock("end"),
        row.week_days("days"),
        cast(Any, row.choice("belongs_to", "begin", "end")) if row.has("belongs_to") else "begin",
        _other_hours(row),
    )
    if found.start == found.end:
        row.fault("end", say("is the start too; a shift must have a length"))
    elif found.belongs_to == "end" and not any(found.crosses(day) for day in found.days):
        row.fault(
            "belongs_to", say("is for a shift that crosses midnight; leave it out of one that ends on its own day")
        )
    return found


def _other_hours(row: Row) -> tuple[tuple[int, time, time], ...]:
    told = row.cells.get("other_hours", {})
    if not isinstance(told, dict):
        row.fault("other_hours", say('must name weekdays with their hours, as { fri = ["06:00", "12:00"] }'))
        return ()
    found = []
    for name, hours in told.items():
        if name not in DAYS or name not in row.cells.get("days", ()):
            row.fault(
                "other_hours", say("names {name}, on which the shift does not work; name one of its days", name=name)
            )
        elif not isinstance(hours, list) or len(hours) != 2:
            row.fault(
                "other_hours", say('has no start and end for {name}; write {name} = ["06:00", "12:00"]', name=name)
            )
        else:
            part = Row(row.faults, row.file, row.line, {name: hours[0], f"{name} end": hours[1]}, "shift.other_hours")
            start, end = part.clock(name), part.clock(f"{name} end")
            if start == end and isinstance(hours[0], str) and hours[0] == hours[1]:
                part.fault(name, say("is start and end in one; a shift must have a length"))
            found.append((DAYS[name], start, end))
    return tuple(sorted(found))


def vital_few(faults: Faults, data: Mapping[str, Any]) -> float:
    """Return the share of the whole that a Pareto's vital few are asked to make; a plant need not say it."""
    if "review" not in data:
        return VITAL_FEW
    found = data["review"]
    row = toml_row(faults, PLANT_FILE, found if isinstance(found, dict) else {}, "review", ("vital_few_percent",))
    return row.whole("vital_few_percent", 1, 100) / 100


def plan_form(faults: Faults, data: Mapping[str, Any]) -> PlanForm:
    """Return how the plant writes its build plans; a plant need not say it."""
    if "plan" not in data:
        return PlanForm()
    found = data["plan"]
    row = toml_row(faults, PLANT_FILE, found if isinstance(found, dict) else {}, "plan", (), optional=_PLAN)
    names = {column: row.text(column, most=60) for column in COLUMNS if row.has(column)}
    for column, name in names.items():
        if sum(name.casefold() == other.casefold() for other in names.values()) > 1:
            row.fault(column, say("is the name of two columns; names must differ"))
    day_format = row.text("day_format", most=20) if row.has("day_format") else ""
    if day_format and not is_day_format(day_format):
        row.fault(
            "day_format", say("is no form of day; write DD, MM and YYYY with the same sign between, as DD.MM.YYYY")
        )
        day_format = ""
    return PlanForm(MappingProxyType(names), day_format)


def backup_plan(faults: Faults, data: Mapping[str, Any]) -> BackupPlan | None:
    """Return how the server copies its record, None where the plant says nothing of it."""
    if "backup" not in data:
        return None
    found = data["backup"]
    row = toml_row(faults, PLANT_FILE, found if isinstance(found, dict) else {}, "backup", ("folder", "at", "keep"))
    return BackupPlan(_absolute(row), row.clock("at"), row.whole("keep", 1, 3650))


def drop_plan(faults: Faults, data: Mapping[str, Any]) -> DropPlan | None:
    """Return where build plans are dropped for the server to take, None where the plant has no such folder."""
    if "drop" not in data:
        return None
    found = data["drop"]
    cells, keys = found if isinstance(found, dict) else {}, ("folder", "in_name_of")
    row = toml_row(faults, PLANT_FILE, cells, "drop", keys, optional=("leave_wrong",))
    return DropPlan(_absolute(row), row.code("in_name_of"), row.has("leave_wrong") and row.yes("leave_wrong"))


def _absolute(row: Row) -> str:
    folder = row.text("folder", most=300)
    if folder and not (PurePosixPath(folder).is_absolute() or PureWindowsPath(folder).is_absolute()):
        row.fault("folder", say("is no absolute path; name the folder from its root"))
    return folder


def mail_plan(faults: Faults, data: Mapping[str, Any]) -> MailPlan | None:
    """Return how the server mails, None where the plant says nothing of it: then nobody is mailed."""
    if "mail" not in data:
        return None
    found = data["mail"]
    cells = found if isinstance(found, dict) else {}
    row = toml_row(faults, PLANT_FILE, cells, "mail", _MAIL, optional=_MAIL_OPTIONAL)
    tls, sender, links = row.choice("tls", *_TLS), row.text("from", most=254), row.text("links", most=60).rstrip("/")
    files = {name: row.text(name, most=300) if row.has(name) else "" for name in ("password_file", "root")}
    user = row.text("user", most=100) if row.has("user") else ""
    server = row.text("server", most=253)
    if server and not re.fullmatch(r"[A-Za-z0-9.:-]+", server):
        row.fault("server", say("is no name or address of a machine; write it as mail.plant.example"))
    if tls == "none" and user:
        row.fault("tls", say("would send the password for all on the network to read; use tls or starttls"))
    if sender and (why := address_fault(sender)):
        row.fault("from", why)
    if links and not _is_web_address(links):
        row.fault("links", say("is no address of pages; write it as https://record.plant.example:8443"))
    for name, path in files.items():
        if path and not _is_absolute(path):
            row.fault(name, say("is no absolute path; name the file from its root"))
    if bool(user) != bool(files["password_file"]):
        row.fault("user", say("and password_file go together; give both or neither"))
    own = sender.rpartition("@")[2].lower()
    return MailPlan(
        server=server,
        port=row.whole("port", 1, 65535),
        tls=_TLS[tls],
        user=user,
        **files,
        sender=sender,
        links=links,
        at=row.clock("at"),
        days=row.week_days("days") if row.has("days") else (1, 2, 3, 4, 5),
        domains=_domains(row) if row.has("domains") else (own,),
    )


def _domains(row: Row) -> tuple[str, ...]:
    listed = row.cells["domains"]
    if not isinstance(listed, list) or not listed or any(address_fault(f"a@{one}") for one in listed):
        row.fault("domains", say('must be a list of domains that mail may go to, as ["plant.example"]'))
        return ()
    return tuple(one.lower() for one in listed)


def _is_absolute(path: str) -> bool:
    return PurePosixPath(path).is_absolute() or PureWindowsPath(path).is_absolute()


def _is_web_address(told: str) -> bool:
    try:
        parts = urlsplit(told)
        _ = parts.port  # raises where it is no number
    except ValueError:
        return False
    plain = told.isascii() and told.isprintable() and " " not in told
    return plain and parts.scheme in ("http", "https") and bool(parts.hostname) and not (parts.query or parts.fragment)


def holidays(faults: Faults, data: Mapping[str, Any]) -> frozenset[date]:
    """Return the days without production."""
    found = data.get("calendar", {})
    listed = found.get("holidays", []) if isinstance(found, dict) else None
    if not isinstance(listed, list):
        faults.note(PLANT_FILE, 0, "calendar.holidays", listed, say("must be a list of days, YYYY-MM-DD"))
        return frozenset()
    for place, day in enumerate(listed, start=1):
        if type(day) is not date:
            faults.note(PLANT_FILE, place, "calendar.holidays", day, say("is no day; write YYYY-MM-DD without quotes"))
    return frozenset(day for day in listed if type(day) is date)


def shutdowns(faults: Faults, data: Mapping[str, Any]) -> tuple[Shutdown, ...]:
    """Return the ranges of days without production, of the plant or of some of its stations; a plant may have none."""
    if "shutdown" not in data:
        return ()
    keys = ("name", "first", "last")
    rows = toml_rows(faults, PLANT_FILE, data, "shutdown", keys, optional=("stations",))
    return tuple(keyed((row, "name", row.text("name", most=80), shutdown(row)) for row in rows).values())


def shutdown(row: Row) -> Shutdown:
    """Return one range of days; its first and last day may be the same."""
    first, last = _day(row, "first"), _day(row, "last")
    stations = row.cells.get("stations", [])
    if not isinstance(stations, list) or not all(isinstance(one, str) for one in stations):
        row.fault("stations", say('must be a list of stations, as ["B10", "B20"]; leave it out for the whole plant'))
        stations = []
    elif row.has("stations") and not stations:
        row.fault("stations", say("names no station; leave it out for the whole plant"))
    if first is not None and last is not None:
        if last < first:
            row.fault("last", say("is before the first day, {first}; swap them or mend one", first=first.isoformat()))
        elif (last - first).days >= LONGEST_SHUTDOWN:
            row.fault(
                "last",
                say(
                    "is more than {longest_shutdown} days after the first; end the stations instead",
                    longest_shutdown=LONGEST_SHUTDOWN,
                ),
            )
    if first is None or last is None or not 0 <= (last - first).days < LONGEST_SHUTDOWN:
        first = last = date.min
    return Shutdown(str(row.cells.get("name", "")).strip(), first, last, tuple(dict.fromkeys(stations)))


def _day(row: Row, key: str) -> date | None:
    found = row.cells.get(key)
    if type(found) is date:
        return found
    row.fault(key, say("is no day; write YYYY-MM-DD without quotes"))
    return None


def links(faults: Faults, data: Mapping[str, Any]) -> Links:
    """Return the build graph's edges; a pair of another shape is noted and left out."""
    found = data.get("links", {})
    found = found if isinstance(found, dict) else {}
    for name in found:
        if name not in ("flow", "feed", "rework"):
            faults.note(PLANT_FILE, 0, f"links.{name}", name, say("is no kind of link; use flow, feed, rework"))
    return Links(*(_pairs(faults, found, name) for name in ("flow", "feed", "rework")))


def _pairs(faults: Faults, found: Mapping[str, Any], name: str) -> tuple[tuple[str, str], ...]:
    listed = found.get(name, [])
    if not isinstance(listed, list) or (name == "flow" and not listed):
        faults.note(PLANT_FILE, 0, f"links.{name}", listed, say('must be a list of pairs ["from", "to"]'))
        return ()
    pairs: list[tuple[str, str]] = []
    for place, pair in enumerate(listed, start=1):
        if isinstance(pair, list) and len(pair) == 2 and all(isinstance(end, str) for end in pair):
            pairs.append((pair[0], pair[1]))
        else:
            faults.note(PLANT_FILE, place, f"links.{name}", pair, say('is no pair; write ["from", "to"]'))
    return tuple(pairs)
