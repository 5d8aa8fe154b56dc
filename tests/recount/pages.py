"""Every page that is counted again: its address, who reads it, and what the recount knows of it."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta

from tests.recount.attributed import Ledger, Sheet, attribute
from tests.recount.backlog_page import backlog_sheet
from tests.recount.everywhere import everywhere, together
from tests.recount.inspectors_page import inspectors_sheet
from tests.recount.known import Known
from tests.recount.own_looks_page import own_looks_sheet
from tests.recount.plant import monday_of, week_of
from tests.recount.presented import Counted, Narrowed
from tests.recount.printed import Page
from tests.recount.review import review_sheet
from tests.recount.served import Served
from tests.recount.signals_page import signals_sheet, signals_words
from tests.recount.station import station_sheet
from tests.recount.stations_page import stations_sheet
from tests.recount.under_way import under_way_sheet
from tests.recount.unit_page import unit_sheet
from tests.recount.view import NON_CRITICAL, View

HEAVIEST = 250_000  # bytes of the review, charts' data not among them
MANAGER = "QM1"
# What the review's query calls a severity, and which of its defects a rate then counts; criticals stand in no rate.
SEVERITIES = {"": NON_CRITICAL, "major": ("major",), "critical": ()}


@dataclass(frozen=True, slots=True)
class Asked:
    """One page to be held: kind for the table, address, how its sheet is made from what it prints, and who reads it."""

    kind: str
    address: str
    sheet: Callable[[Page], Sheet]
    person: str = MANAGER


def known_of(counted: Counted) -> Known:
    """Return the names of a record: people, shop numbers, instruments."""
    said = counted.record.said
    people = {one.author for one in said} | {MANAGER}
    instruments = {one.body["instrument"] for one in said if isinstance(one.body.get("instrument"), str)}
    shops = tuple(unit.shop for unit in counted.record.units.values())
    return Known(counted.plant, tuple(people | instruments), shops)


def reviews(server: Served, view: View, narrowings: tuple[str, ...]) -> Iterator[Asked]:
    """Return the review whole and narrowed; a narrowing is the query that asks for it, "" for none."""
    for query in narrowings:
        own = narrowed(view, query)
        signals = server.page(MANAGER, f"/signals?week={own.week}")
        asked = query if query.startswith("week=") else f"week={own.week}&{query}".rstrip("&")
        for beside in ("", "/by-model", "/by-point"):
            yield Asked(
                "review",
                f"/review{beside}?{asked}",
                lambda _, own=own, signals=signals: review_sheet(own, signals),
            )


def too_heavy(server: Served, view: View, narrowings: tuple[str, ...]) -> list[str]:
    """Return each review, whole or narrowed, whose HTML is larger than a phone should have to take."""
    pages = [server.page(MANAGER, f"/review?week={view.week}&{query}".rstrip("&")) for query in narrowings]
    return [f"{page.address} is {page.size} bytes, at most {HEAVIEST}" for page in pages if page.size > HEAVIEST]


def narrowed(view: View, query: str) -> View:
    """Return a view as the review's query narrows it."""
    asked = dict(part.split("=") for part in query.split("&") if part)
    models = (asked["model"],) if "model" in asked else ()
    shifts = (asked["shift"],) if "shift" in asked else ()
    return replace(
        view,
        week=asked.get("week", view.week),
        weeks=int(asked.get("weeks", view.weeks)),
        narrowed=Narrowed(models, shifts),
        severities=SEVERITIES[asked.get("severity", "")],
        order=asked.get("order", view.order),
        chosen=_set_baseline(asked),
    )


def _set_baseline(asked: dict[str, str]) -> tuple[str, ...]:
    """Return the weeks of the baseline that a query sets, those left out not among them."""
    if "baseline" not in asked:
        return ()
    first, last = map(monday_of, asked["baseline"].split(".."))
    weeks = (week_of(first + timedelta(weeks=n)) for n in range((last - first).days // 7 + 1))
    return tuple(week for week in weeks if week not in asked.get("left_out", "").split(","))


def others(view: View, stations: tuple[str, ...], units: tuple[str, ...], signals: Page) -> Iterator[Asked]:
    """Return every page but the review: stations and units by code and chassis number.

    signals: the page of signals, which says of which types each sum is.
    """
    yield Asked("stations", "/stations", lambda _: stations_sheet(view))
    yield Asked("signals", "/signals", lambda page: together(signals_sheet(view, page), under_way_sheet(view)))
    yield Asked("backlog", "/backlog", lambda _: backlog_sheet(view))
    yield Asked("inspectors", "/inspectors", lambda _: inspectors_sheet(view))
    for code in stations:
        yield Asked(
            "station",
            f"/stations/{code}",
            lambda _, code=code: together(
                station_sheet(view, code), under_way_sheet(view), signals_words(view, signals)
            ),
        )
    for chassis in units:
        unit = view.record.units[chassis]
        yield Asked("unit", f"/units/{chassis}", lambda _, unit=unit: unit_sheet(view, unit))


def own_views(view: View, people: tuple[str, ...], leads: dict[str, tuple[str, ...]], signals: Page) -> Iterator[Asked]:
    """Return what people see of their own: inspectors by code, and each lead's code with their stations."""
    for who in people:
        yield Asked("own looks", "/inspectors/me", lambda _, who=who: own_looks_sheet(view, who), who)
    for who, stations in leads.items():
        yield Asked("own list", "/stations", lambda _, stations=stations: stations_sheet(view, stations), who)
        for code in stations:
            yield Asked(
                "own station",
                f"/stations/{code}",
                lambda _, code=code: together(
                    station_sheet(view, code), under_way_sheet(view), signals_words(view, signals)
                ),
                who,
            )


def held(server: Served, asked: Asked, known: Known) -> Ledger:
    """Return the ledger of one page as the manager gets it."""
    page = server.page(asked.person, asked.address)
    return attribute(page, together(asked.sheet(page), everywhere()), known)
