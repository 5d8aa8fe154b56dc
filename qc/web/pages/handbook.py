"""The handbook: a page for each role that begins with the day's work, and pages for the days that are different.

Its text stands in `static/handbook`, where the app has it from too, for when there is no signal.
"""

import re
from collections.abc import Callable
from functools import cache
from typing import cast

from flask import Response, abort, current_app, render_template
from markupsafe import Markup

from qc.assets import folder
from qc.domain.facts.people import Person
from qc.domain.words.speaking import marked, say
from qc.domain.words.speaking import tongue as spoken_now
from qc.web.page_session import current_person, require_role

PAGES: dict[str, str] = {
    "inspector": marked("Inspector"),
    "tester": marked("Test bay"),
    "repairer": marked("Repairer"),
    "lead": marked("Station lead"),
    "manager": marked("Quality manager"),
    "planner": marked("Planner"),
    "dispatch": marked("Dispatch"),
    "administrator": marked("Administrator"),
    "screens": marked("Pages for everybody"),
    "reading-the-review": marked("Reading the review"),
    "server-down": marked("When the server is down"),
    "phone-lost": marked("When a phone is lost"),
    "starting": marked("Starting a plant"),
    "commands": marked("Commands"),
    "settings": marked("Settings"),
    "auditor": marked("For an auditor"),
}
OPEN = ("server-down", "phone-lost")  # who cannot sign in needs these; they hold nothing of the plant
OF_ROLE: dict[str, str] = {
    "inspector": "inspector",
    "tester": "tester",
    "repairer": "repairer",
    "station_lead": "lead",
    "quality_manager": "manager",
    "planner": "planner",
    "dispatch": "dispatch",
    "administrator": "administrator",
}
# The paragraph that tells of a page, by the page's address; a page that an act shows has that of the page it is on.
PARAGRAPHS: dict[str, str] = {
    "/review": "reading-the-review#units",
    "/review/by-model": "reading-the-review#level",
    "/review/by-point": "reading-the-review#level",
    "/backlog": "manager#backlog",
    "/stations": "lead#stations",
    "/stations/<station>": "lead#station",
    "/stations/<station>/origin": "lead#station",
    "/stations/<station>/changes": "lead#station",
    "/units": "screens#units",
    "/units/<chassis>": "screens#unit",
    "/units/<chassis>/settle": "manager#day",
    "/units/<chassis>/suspect": "manager#day",
    "/units/<chassis>/cancel": "planner#cancel",
    "/units/<chassis>/take-up": "planner#cancel",
    "/units/<chassis>/found": "dispatch#after",
    "/signals": "manager#signals",
    "/signals/mute": "manager#signals",
    "/signals/unmute": "manager#signals",
    "/inspectors": "manager#inspectors",
    "/inspectors/me": "inspector#re-looks",
    "/set-aside": "manager#set-aside",
    "/set-aside/take": "manager#set-aside",
    "/set-aside/leave": "manager#set-aside",
    "/plant-tables": "administrator#tables",
    "/plant-tables/file": "administrator#tables",
    "/plant-tables/look": "administrator#tables",
    "/plant-tables/take": "administrator#tables",
    "/plant-tables/picture": "administrator#zones",
    "/plant-tables/zones": "administrator#zones",
    "/people": "administrator#people",
    "/people/add": "administrator#people",
    "/people/role": "administrator#people",
    "/people/secret": "administrator#people",
    "/people/end": "administrator#people",
    "/people/return": "administrator#people",
    "/people/enrol": "administrator#phones",
    "/people/revoke": "phone-lost#now",
    "/people/restore": "phone-lost#found",
    "/people/token": "administrator#machines",
    "/people/token-end": "administrator#machines",
    "/own-secret": "screens#own-secret",
    "/own-language": "screens#language",
    "/own-mail": "screens#own-mail",
    "/sign-ins": "screens#sign-ins",
    "/sign-in": "screens#sign-in",
    "/passed": "lead#passing",
    "/passed/look": "lead#passing",
    "/passed/take": "lead#passing",
    "/plan": "planner#day",
    "/plan/look": "planner#plan",
    "/plan/take": "planner#plan",
    "/plan/range": "planner#range",
    "/plan/range/take": "planner#range",
    "/legend": "screens#legend",
    "/export": "manager#export",
    "/labels": "planner#labels",
    "/paper": "screens#paper",
}


@require_role()
def index() -> str:
    """Return the list of pages, the person's own first."""
    return _shown("help/index.html", "", marked("The handbook"))


@require_role()
def show(page: str) -> Response | str:
    """Return one page; 404 for one that the handbook does not have."""
    return _page(page, PAGES[page]) if page in PAGES else abort(404)


def show_open(page: str) -> str:
    """Return a page that anybody may read."""
    return _page(page, PAGES[page])


def help_address(rule: str) -> str:
    """Return the address of the paragraph that tells of a page, given its route; the handbook's for one without."""
    told = PARAGRAPHS.get(rule, "")
    return f"/help/{told}" if told else "/help"


def _page(page: str, title: str) -> str:
    return _shown("help/_page.html", page, title)


def _shown(template: str, page: str, title: str) -> str:
    person: Person | None = current_person()
    own = {OF_ROLE[one]: say(PAGES[OF_ROLE[one]]) for one in person.roles} if person else {}
    shown = [(slug, say(name)) for slug, name in PAGES.items() if slug != page and (person or slug in OPEN)]
    tongue = spoken_now().tag
    told = text(page, tongue) if page else ""
    return render_template(template, title=say(title), own=own, others=shown, text=told, tongue=tongue)


def text(page: str, tongue: str) -> Markup:
    """Return a page's own text in a language, its heading included, with the pictures at their addresses."""
    address = cast(Callable[[str], str], current_app.jinja_env.globals["static_url"])
    return Markup(_PICTURE.sub(lambda found: f'src="{address("handbook/" + found[1])}"', _written(page, tongue)))


@cache
def _written(page: str, tongue: str) -> str:
    return (folder("static") / "handbook" / tongue / f"{page}.html").read_text(encoding="utf-8")


_PICTURE = re.compile(r'src="(pictures/[a-z-]+\.webp)"')
