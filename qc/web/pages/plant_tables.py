"""The plant's tables: what new ones would change is shown in words; then they are put in force as they were shown."""

import hashlib
import threading
from collections import OrderedDict
from contextlib import ExitStack
from weakref import WeakKeyDictionary

import orjson
from flask import Response, abort, render_template, request

from qc.domain.operations import day as day_shape
from qc.domain.people import SERVER, Person
from qc.domain.plant_tables import FILES, OPTIONAL_FILES
from qc.reports.table_revisions import TablesReport, revision_lines, tables_report
from qc.store.folder.sheets import UnreadableSheet
from qc.store.intake.revising import FilesNotLaid, put_in_force
from qc.store.record.own_word import By, NotTold
from qc.web.house import House, the_house
from qc.web.page_session import current_person, current_sign_in, require_role
from qc.web.pages.acting import sentence
from qc.web.pages.page_counts import today

FILE_BYTES = 8_000_000  # of all files together
MOST_FILES = 12
KEPT = 4
SHOWN = 100  # changes of one table
LEAST_REASON, MOST_REASON = 3, 500
Files = list[tuple[str, bytes]]


class _Handed:
    """Files that were looked through and may be taken next, the latest few, by who handed them in and their digest."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._files: OrderedDict[tuple[str, str], Files] = OrderedDict()

    def keep(self, person: Person, files: Files) -> str:
        digest = hashlib.sha256()
        for name, data in files:
            digest.update(hashlib.sha256(name.encode()).digest() + hashlib.sha256(data).digest())
        with self._lock:
            self._files[person.code, digest.hexdigest()] = files
            while len(self._files) > KEPT:
                self._files.popitem(last=False)
        return digest.hexdigest()

    def get(self, person: Person, digest: str) -> Files | None:
        with self._lock:
            return self._files.get((person.code, digest))


_handed: WeakKeyDictionary[object, _Handed] = WeakKeyDictionary()
_handed_lock = threading.Lock()


@require_role("administrator", "quality_manager")
def show() -> Response:
    """Return the tables in force and every revision."""
    return _page()


@require_role("administrator", "quality_manager")
def file() -> Response:
    """Return one of the tables in force as a file."""
    house, name = the_house(), request.args.get("name", FILES[0])
    tables = _in_force(house)
    if name not in tables:
        abort(404)
    answer = Response(tables[name], mimetype="text/plain" if name == FILES[0] else "text/csv")
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    answer.headers["Cache-Control"] = "private, no-store"
    return answer


@require_role("administrator")
def look() -> Response:
    """Hold files against the tables in force and show what would change; nothing is changed."""
    house, person = the_house(), _person()
    files: Files = []
    with ExitStack() as opened:
        for one in request.files.getlist("files")[: MOST_FILES + 1]:
            opened.callback(one.close)
            if one.filename:
                files.append((one.filename[:80], one.stream.read(FILE_BYTES + 1)))
    if not files:
        return _page(problem="No file was chosen. Choose the tables that change, CSV or one XLSX.", status=400)
    if len(files) > MOST_FILES or sum(len(data) for _, data in files) > FILE_BYTES:
        words = (
            f"More than {MOST_FILES} files or {FILE_BYTES // 1_000_000} MB came. Hand in the tables that change alone."
        )
        return _page(problem=words, status=413)
    try:
        report = tables_report(files, _in_force(house))
    except UnreadableSheet as why:
        return _page(problem=f"{why}. Nothing was changed.", status=400)
    return _page(report=report, digest=_kept(house).keep(person, files))


@require_role("administrator")
def take() -> Response:
    """Put files that were looked through in force, if they still change what was shown."""
    house, person, digest = the_house(), _person(), request.form.get("digest", "")
    files = _kept(house).get(person, digest)
    if files is None:
        words = "Those files are no longer here: the server started again, or others came later. Choose them again."
        return _page(problem=words, status=410)
    report = tables_report(files, _in_force(house))
    if report.changes is not None and not report.changes.changes:
        return _page(report=report, digest=digest, done="These tables are in force already.")
    if request.form.get("seen") != _mark(report):
        words = "Other tables were put in force meanwhile. Nothing was changed; this is what yours would change now."
        return _page(report=report, digest=digest, problem=words, status=409)
    reason, from_day = request.form.get("reason", "").strip(), request.form.get("from_day", "")
    if problem := _unsaid(report, reason, from_day):
        return _page(report=report, digest=digest, problem=f"{problem} Nothing was changed.", status=400)
    try:
        put_in_force(house.journal, house.folder, report.tables, report.previous, reason, from_day, _by())
    except NotTold as why:
        words = f"{sentence(str(why))} Nothing was changed."
        return _page(report=tables_report(files, _in_force(house)), digest=digest, problem=words, status=409)
    except FilesNotLaid as why:
        house.follow_tables()
        return _page(problem=sentence(str(why)), status=500)
    house.follow_tables()
    waiting = report.changes.waiting() if report.changes is not None else ""
    return _page(done=f"In force from {from_day}. Phones take these tables at their next sync. {waiting}".rstrip())


def _unsaid(report: TablesReport, reason: str, from_day: str) -> str:
    if not report.may_be_taken:
        return "The tables cannot be put in force as they are."
    if not LEAST_REASON <= len(reason) <= MOST_REASON:
        return f"Say in {LEAST_REASON} to {MOST_REASON} characters why the tables change."
    why = day_shape(from_day)
    return f"The day {why}." if why else ""


def _mark(report: TablesReport) -> str:
    return f"{report.previous}{report.revision}"


def _in_force(house: House) -> dict[str, str]:
    house.follow_tables()
    kept = house.reads.tables_of(house.plant.revision)
    assert kept is not None, "the record keeps the tables in force"
    return dict(orjson.loads(kept))


def _page(
    *, report: TablesReport | None = None, digest: str = "", problem: str = "", done: str = "", status: int = 200
) -> Response:
    house = the_house()
    page = render_template(
        "plant_tables/plant_tables.html",
        report=report,
        digest=digest,
        seen="" if report is None else _mark(report),
        problem=problem,
        done=done,
        shown=SHOWN,
        names=[name for name in (*FILES, *OPTIONAL_FILES) if name in _in_force(house)],
        revisions=revision_lines(house.reads)[::-1],
        server=SERVER,
        reason=request.form.get("reason", ""),
        from_day=request.form.get("from_day", "") or today(house).isoformat(),
        acts=_person().role == "administrator",
        most_reason=MOST_REASON,
    )
    return Response(page, status, mimetype="text/html")


def _kept(house: House) -> _Handed:
    with _handed_lock:
        return _handed.setdefault(house.journal, _Handed())


def _person() -> Person:
    person = current_person()
    assert person is not None, "require_role lets nobody else through"
    return person


def _by() -> By:
    signed_in = current_sign_in()
    assert signed_in is not None, "require_role lets nobody else through"
    return By(signed_in.person.code, signed_in.session)
