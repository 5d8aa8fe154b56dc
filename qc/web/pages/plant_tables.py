"""The plant's tables: what new ones would change is shown in words; then they are put in force as they were shown."""

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from urllib.parse import urlencode
from weakref import WeakKeyDictionary

import orjson
from flask import Response, abort, redirect, render_template, request
from werkzeug.wrappers import Response as ResponseBase

from qc.domain.facts.operations import day as day_shape
from qc.domain.facts.people import SERVER, Person
from qc.domain.plant.plant import ViewPicture
from qc.domain.tables.pictures_table import corners_at_first, with_picture, without_picture
from qc.domain.tables.plant_tables import FILES, OPTIONAL_FILES, PICTURES
from qc.domain.words.speaking import say, told
from qc.reports.table_revisions import TablesReport, revision_lines, tables_report
from qc.store.folder.sheets import UnreadableSheet
from qc.store.folder.view_pictures import MOST_FILE, NotAPicture, made_anew
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
PICTURE_BYTES = MOST_FILE + 1
CORNERS = ("left", "bottom", "right", "top")
LEAST_REASON, MOST_REASON = 3, 500
Files = list[tuple[str, bytes]]


@dataclass(frozen=True, slots=True)
class Offer:
    """What may be put in force once it was looked through.

    files: the files that it makes of the tables in force (raises Overtaken where these no longer let it); back: the
    address of the drawing that it comes from, "" for files that somebody chose.
    """

    files: Callable[[Mapping[str, str]], Files]
    back: str = ""


class Overtaken(Exception):
    """What was drawn rests on tables that others have changed in the same place since."""


class _Handed:
    """Offers that were looked through and may be taken next, the latest few, by who made them and their digest."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._offers: OrderedDict[tuple[str, str], Offer] = OrderedDict()

    def keep(self, person: Person, offer: Offer, files: Files) -> str:
        digest = hashlib.sha256(offer.back.encode())
        for name, data in files:
            digest.update(hashlib.sha256(name.encode()).digest() + hashlib.sha256(data).digest())
        with self._lock:
            self._offers[person.code, digest.hexdigest()] = offer
            while len(self._offers) > KEPT:
                self._offers.popitem(last=False)
        return digest.hexdigest()

    def get(self, person: Person, digest: str) -> Offer | None:
        with self._lock:
            return self._offers.get((person.code, digest))


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
    tables = tables_in_force(house)
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
        return _page(problem=say("No file was chosen. Choose the tables that change, CSV or one XLSX."), status=400)
    if len(files) > MOST_FILES or sum(len(data) for _, data in files) > FILE_BYTES:
        words = say(
            "More than {files} files or {size} MB came. Hand in the tables that change alone.",
            files=MOST_FILES,
            size=FILE_BYTES // 1_000_000,
        )
        return _page(problem=words, status=413)
    try:
        return offered(house, person, Offer(lambda _: files))
    except UnreadableSheet as why:
        return _page(problem=say("{why}. Nothing was changed.", why=why), status=400)


def offered(house: House, person: Person, offer: Offer) -> Response:
    """Show what an offer would change and let it be put in force next. Raises UnreadableSheet, Overtaken."""
    in_force = tables_in_force(house)
    files = offer.files(in_force)
    return _page(report=tables_report(files, in_force), digest=_kept(house).keep(person, offer, files), back=offer.back)


@require_role("administrator")
def picture() -> ResponseBase:
    """Make a picture anew that is to lie under the zones of a view, keep it, and show what it would change."""
    house, person = the_house(), _person()
    model, view = request.form.get("model", ""), request.form.get("view", "")
    if model not in house.plant.models or view not in house.plant.views:
        return _page(problem=say("Choose a model and a view of this plant. Nothing was changed."), status=400)
    if request.form.get("without") == "yes":
        offer = Offer(lambda tables: [(PICTURES, without_picture(tables, model, view).encode())])
        return offered(house, person, offer)
    file = request.files.get("picture")
    if file is None or not file.filename:
        return _page(problem=say("No picture was chosen. Choose a PNG, JPEG or WebP. Nothing was changed."), status=400)
    try:
        made = made_anew(file.stream.read(MOST_FILE + 1))
    except NotAPicture as why:
        words = say("The picture {name} {why}. Nothing was changed.", name=file.filename[:80], why=why)
        return _page(problem=words, status=400)
    finally:
        file.close()
    kept = house.photos.keep(made.data)
    if request.form.get("draw") == "yes":
        return redirect(drawing_address(model, view, kept.sha256), 303)
    placed = ViewPicture(
        model=model,
        view=view,
        sha256=kept.sha256,
        width=kept.width,
        height=kept.height,
        **dict(zip(CORNERS, corners_at_first(house.plant, model, view, kept.width, kept.height), strict=True)),
    )
    return offered(house, person, Offer(lambda tables: [(PICTURES, with_picture(tables, placed).encode())]))


def drawing_address(model: str, view: str, picture: str = "") -> str:
    """Return the address of a view's drawing; picture: one that is to lie under it, by its name."""
    return "/plant-tables/zones?" + urlencode(
        {"model": model, "view": view} | ({"picture": picture} if picture else {})
    )


@require_role("administrator")
def take() -> Response:
    """Put files that were looked through in force, if they still change what was shown."""
    house, person, digest = the_house(), _person(), request.form.get("digest", "")
    offer = _kept(house).get(person, digest)
    if offer is None:
        words = say(
            "Those files are no longer here: the server started again, or others came later. Choose them again."
        )
        return _page(problem=words, status=410)
    in_force = tables_in_force(house)
    try:
        report = tables_report(offer.files(in_force), in_force)
    except Overtaken as why:
        return _page(problem=say("{why} Nothing was changed.", why=why), back=offer.back, status=409)
    if report.changes is not None and not report.changes.changes:
        return _page(report=report, digest=digest, done=say("These tables are in force already."))
    if request.form.get("seen") != _mark(report):
        words = say(
            "Other tables were put in force meanwhile. Nothing was changed; this is what yours would change now."
        )
        return _page(report=report, digest=digest, problem=words, back=offer.back, status=409)
    reason, from_day = request.form.get("reason", "").strip(), request.form.get("from_day", "")
    if problem := _unsaid(report, reason, from_day):
        return _page(
            report=report,
            digest=digest,
            problem=say("{why} Nothing was changed.", why=problem),
            back=offer.back,
            status=400,
        )
    try:
        put_in_force(house.journal, house.folder, report.tables, report.previous, reason, from_day, _by())
    except NotTold as why:
        words, in_force = say("{why} Nothing was changed.", why=sentence(str(why))), tables_in_force(house)
        try:
            report = tables_report(offer.files(in_force), in_force)
        except Overtaken as overtaken:
            return _page(problem=say("{why} Nothing was changed.", why=overtaken), back=offer.back, status=409)
        return _page(report=report, digest=digest, problem=words, back=offer.back, status=409)
    except FilesNotLaid as why:
        house.follow_tables()
        return _page(problem=sentence(str(why)), status=500)
    house.follow_tables()
    waiting = report.changes.waiting() if report.changes is not None else ""
    done = say("In force from {day}. Phones take these tables at their next sync.", day=from_day)
    return _page(done=f"{done} {waiting}".rstrip())


def _unsaid(report: TablesReport, reason: str, from_day: str) -> str:
    if not report.may_be_taken:
        return say("The tables cannot be put in force as they are.")
    if not LEAST_REASON <= len(reason) <= MOST_REASON:
        return say("Say in {least} to {most} characters why the tables change.", least=LEAST_REASON, most=MOST_REASON)
    why = day_shape(from_day)
    return say("The day {why}.", why=told(why)) if why else ""


def _mark(report: TablesReport) -> str:
    return f"{report.previous}{report.revision}"


def tables_in_force(house: House) -> dict[str, str]:
    """Return the tables in force as text by file name."""
    house.follow_tables()
    kept = house.reads.tables_of(house.plant.revision)
    assert kept is not None, "the record keeps the tables in force"
    return dict(orjson.loads(kept))


def _page(
    *,
    report: TablesReport | None = None,
    digest: str = "",
    problem: str = "",
    done: str = "",
    back: str = "",
    status: int = 200,
) -> Response:
    house = the_house()
    page = render_template(
        "plant_tables/plant_tables.html",
        report=report,
        digest=digest,
        seen="" if report is None else _mark(report),
        problem=problem,
        done=done,
        back=back,
        shown=SHOWN,
        names=[name for name in (*FILES, *OPTIONAL_FILES) if name in tables_in_force(house)],
        revisions=revision_lines(house.reads)[::-1],
        server=SERVER,
        reason=request.form.get("reason", ""),
        from_day=request.form.get("from_day", "") or today(house).isoformat(),
        acts=_person().has("administrator"),
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
