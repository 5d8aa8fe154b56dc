"""The application: one screen that wires everything."""

from collections.abc import Callable, Sequence
from datetime import datetime

from flask import Flask, Response, abort, request

from qc.domain.facts.people import PLANNING_ROLES
from qc.store.drops import drop_trouble
from qc.store.intake.journal import wall_ms
from qc.store.keeping.backup import backup_trouble
from qc.store.people.house_words import SECRET_TOLD_MS, SecretGiven, secrets_to_tell
from qc.store.record.history import history_alarms
from qc.web import errors, headers, languages, metrics, page_session, pages, photo_answer, sign_in_page
from qc.web.api import routes
from qc.web.assets_site import Site, the_site
from qc.web.certificate_words import certificate_words
from qc.web.clock_words import clock_words
from qc.web.disk_words import disk_words
from qc.web.house import House, keep_house, the_house
from qc.web.own_names import LOOPBACK_NAMES
from qc.web.pages import handed_files, plant_tables, zone_drawing
from qc.web.pages.handbook import help_address

FORM_BYTES = 64_000
_WITHOUT_TABLES = frozenset({"asset", "health", "inspectors_app", "inspectors_app_file", None})
FILE_FORMS = {  # the forms that hand in a file
    "/plan/look": handed_files.FILE_BYTES + FORM_BYTES,
    "/passed/look": handed_files.FILE_BYTES + FORM_BYTES,
    "/plant-tables/look": plant_tables.FILE_BYTES + FORM_BYTES,
    "/plant-tables/picture": plant_tables.PICTURE_BYTES + FORM_BYTES,
    "/plant-tables/zones": 4 * zone_drawing.MOST_BYTES + FORM_BYTES,  # each sign may be written as three and more
}


def create_app(
    house: House,
    hosts: Sequence[str] = LOOPBACK_NAMES,
    site: Site | None = None,
    collectors: Sequence[str] = (),
    certificate_ends: datetime | None = None,
) -> Flask:
    """Return the application that serves a house under the given names; other names are refused.

    collectors: addresses besides this machine's own that may ask for its figures. certificate_ends: of the certificate
    that is served with, None for plain HTTP.
    """
    app = Flask("qc.web", static_folder=None)
    app.config.update(
        TRUSTED_HOSTS=list(hosts),
        MAX_CONTENT_LENGTH=FORM_BYTES,
        MAX_FORM_MEMORY_SIZE=FORM_BYTES,
        MAX_FORM_PARTS=200,
        PROVIDE_AUTOMATIC_OPTIONS=False,
        PROPAGATE_EXCEPTIONS=False,
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    site = site or the_site()
    keep_house(app.extensions, house)
    app.jinja_env.globals["static_url"] = lambda path: site.address(f"static/{path}")
    app.jinja_env.globals["asset_url"] = site.address
    app.jinja_env.globals["app_version"] = site.version
    app.context_processor(lambda: {"demo": house.demo, "plant": house.shown})
    app.before_request(_follow_tables)
    metrics.register(app, house, collectors)
    app.before_request(_admit_file)  # before anything reads the form
    page_session.register(app)
    languages.register(app)
    app.context_processor(lambda: {"record_alarms": _record_alarms(house), "wrong_tries": _wrong_tries(house)})
    app.context_processor(lambda: {"backup_trouble": _backup_trouble(house)})
    app.context_processor(lambda: {"clock_trouble": _for_keepers(house, clock_words)})
    app.context_processor(
        lambda: {"certificate_trouble": _for_keepers(house, lambda _: certificate_words(certificate_ends))}
    )
    app.context_processor(lambda: {"disk_trouble": _for_keepers(house, disk_words)})
    app.context_processor(lambda: {"drop_trouble": _drop_trouble(house)})
    app.context_processor(lambda: {"secret_given": _secret_given(house)})
    app.context_processor(lambda: {"help_address": help_address(request.url_rule.rule if request.url_rule else "")})
    errors.register(app)
    app.after_request(headers.add_headers)
    app.register_blueprint(routes.blueprint(house))
    app.register_blueprint(sign_in_page.blueprint())
    app.register_blueprint(photo_answer.blueprint())
    app.register_blueprint(pages.blueprint(house))
    _serve(app, site)
    return app


def _follow_tables() -> None:
    if request.endpoint not in _WITHOUT_TABLES:
        the_house().follow_tables()


def _admit_file() -> None:
    if request.path in FILE_FORMS:
        request.max_content_length = FILE_FORMS[request.path]
        # Of its fields; the form is read in pieces larger than one. A drawing is all of it one field.
        drawing = FILE_FORMS["/plant-tables/zones"]
        request.max_form_memory_size = drawing if request.path == "/plant-tables/zones" else 4 * FORM_BYTES


def _record_alarms(house: House) -> list[str]:
    """Return what is wrong with the record itself, for who answers for it; nothing for everybody else."""
    person = page_session.current_person()
    if person is None or not person.has("quality_manager", "administrator"):
        return []
    return [alarm.words for alarm in history_alarms(house.reads.connection())]


def _wrong_tries(house: House) -> int:
    """Return how many wrong secrets were given of late for who is signed in."""
    person = page_session.current_person()
    return 0 if person is None else house.sign_ins.wrong_of_late(person.code)


def _backup_trouble(house: House) -> str:
    """Return what is wrong with the server's own backups, for who keeps it or answers for it; "" for everybody else."""
    person = page_session.current_person()
    if house.plant.backup is None or person is None or not person.has("quality_manager", "administrator"):
        return ""
    return backup_trouble(house.folder, wall_ms())


def _for_keepers(house: House, words: Callable[[House], str]) -> str:
    """Return words on the server for who keeps it or answers for it; "" for everybody else."""
    person = page_session.current_person()
    return words(house) if person is not None and person.has("quality_manager", "administrator") else ""


def _drop_trouble(house: House) -> str:
    """Return what is wrong with the drop folder, for who keeps it and whose plans it takes; "" for everybody else."""
    person = page_session.current_person()
    if house.plant.drop is None or person is None or not person.has(*PLANNING_ROLES, "administrator"):
        return ""
    return drop_trouble(house.folder) or ""


def health() -> Response:
    """Tell whoever watches the server that it answers and can write: 200, or 503 while the record is closed to it."""
    away = the_house().journal.away_seconds()
    told = "the record can be written" if not away else f"the record could not be written for {away:.0f} s"
    return Response(f"{told}\n", 503 if away else 200, mimetype="text/plain")


def _secret_given(house: House) -> list[SecretGiven]:
    """Return what is to be told to the person of this page of who gave them their secret; empty for nothing."""
    person = page_session.current_person()
    if person is None:
        return []
    given = house.people.secret_set(person.code)
    if given is None or given.by == person.code or house.clock() - given.at_ms >= SECRET_TOLD_MS:
        return []  # as most are at every page, so the journal is asked only where there may be something
    return secrets_to_tell(house.reads.connection(), person.code, house.clock())


def _serve(app: Flask, site: Site) -> None:
    def kept(version: str, path: str) -> Response:
        return site.kept_for_ever(version, path) or abort(404)

    def starter(name: str = "index.html") -> Response:
        return site.starter(name) or abort(404)

    app.add_url_rule("/a/<version>/<path:path>", "asset", kept, methods=["GET"])
    app.add_url_rule("/health", "health", health, methods=["GET"])
    app.add_url_rule("/app/", "inspectors_app", starter, methods=["GET"])
    app.add_url_rule("/app/<name>", "inspectors_app_file", starter, methods=["GET"])
