"""The legend: each part of the pages once with its use, drawn by the templates and styles that the pages have."""

from datetime import date

from flask import render_template

from qc.charts.kinds.point_map import point_drawing
from qc.charts.kinds.zone_map import LOOK_WORDS, Look, ZoneMark, view_drawing
from qc.charts.pages.legend import bars_example, look_keys, sparks_example, weeks_example
from qc.domain.facts.people import Person
from qc.domain.plant.line_map import line_map
from qc.domain.plant.plant import Plant, View, Zone
from qc.domain.words.speaking import marked, say
from qc.reports.units.open_criticals import OpenCritical
from qc.reports.units.time_line import Moment, Sign
from qc.reports.week.glance import GlanceLine
from qc.web.house import the_house
from qc.web.page_session import current_person, require_role
from qc.web.pages.station import Place, stations_of
from qc.web.pages.unit import Drawing

SIZES = (
    ("1", marked("hints, keys, a table's small words")),
    ("2", marked("a table, a sentence at a desk")),
    ("3", marked("running text on a phone")),
    ("4", marked("a value, the head of a section")),
    ("5", marked("a page's name, a count that stands alone")),
)
GAPS = (
    ("1", marked("within a word and its sign")),
    ("2", marked("between lines of one thing")),
    ("3", marked("between things of one row")),
    ("4", marked("round a block, from a page's edge")),
    ("5", marked("between parts of a section")),
    ("6", marked("between sections")),
)
SEVERITIES = (
    ("critical", marked("may hurt somebody: the unit stays; it is listed by number, never in a rate")),
    ("major", marked("a customer sees it or it stops a function")),
    ("minor", marked("small, and put right all the same")),
)
STATES = (
    ("open", marked("nobody has repaired it, or it asks for a look")),
    ("repaired", marked("waits for somebody else to look again")),
    ("closed", marked("repaired and accepted by another person")),
    ("withdrawn", marked("not a defect, or a second record of one")),
    ("cancelled", marked("a unit that is not built on; in no list of work, never released so")),
    ("passed", marked("a test within its limits")),
    ("failed", marked("a test outside its limits")),
    ("voided", marked("a test that a later repair has undone")),
    ("not_tested", marked("a blank, never a pass")),
    ("released", marked("somebody has signed for it, against what stands beside")),
    ("hold", marked("may not leave")),
    ("alarm", marked("something arrived after the release")),
    ("in_rework", marked("any other word of state has the open ring")),
)
NOTICES = (
    ("alarm", marked("Stop: somebody may be hurt, or what you did was refused. Nothing that you typed is lost.")),
    ("heed", marked("Read this before the numbers below.")),
    ("done", marked("What you did is in the record.")),
    ("plain", marked("A fact that stands apart from the text.")),
)
SIGNS: tuple[tuple[Sign, str], ...] = (
    ("line", marked("passed a station")),
    ("look", marked("an inspection, the first of which counts in rates")),
    ("defect", marked("a defect was recorded")),
    ("repair", marked("a repair was done")),
    ("back", marked("a re-check failed: open again")),
    ("closed", marked("a re-check was accepted")),
    ("test", marked("tests were recorded")),
    ("released", marked("somebody signed the release")),
    ("cancelled", marked("taken off the plan, with a reason")),
)
LEADS_AND_MANAGER = ("station_lead", "quality_manager")  # who may open a station's page
EXAMPLE_MS = 1_770_000_000_000


@require_role()
def show() -> str:
    """Return the legend; its numbers are of no record, its places, zones and cautions the plant's own."""
    plant, person = the_house().shown, current_person()
    assert person is not None  # require_role has sent strangers away
    spark, bars = sparks_example()
    return render_template(
        "legend/legend.html",
        sizes=SIZES,
        gaps=GAPS,
        severities=SEVERITIES,
        states=STATES,
        notices=NOTICES,
        looks=look_keys(),
        zone_looks=LOOK_WORDS,
        weeks=weeks_example(),
        bars=bars_example(),
        questions=[
            (_question(say("A question"), say("12 against 5"), say("It has moved since week 9."), heed=True), spark),
            (_question(say("Another"), say("as usual"), say("Nothing here asks for a look."), heed=False), bars),
        ],
        open_criticals=[_open_critical()],
        moments=[Moment(EXAMPLE_MS + at * 3_600_000, "", say(words), sign) for at, (sign, words) in enumerate(SIGNS)],
        **_of_the_plant(plant, person),
    )


def _question(head: str, reading: str, sentence: str, *, heed: bool) -> GlanceLine:
    return GlanceLine(section="questions-head", head=head, reading=reading, sentence=sentence, heed=heed)


def _open_critical() -> OpenCritical:
    """Return a critical of no record; unit: "" leads nowhere."""
    return OpenCritical(
        unit="",
        shop_number=say("Unit 1"),
        what=say("a critical defect"),
        found_day=date(2026, 3, 2),
        point=say("the end of the line"),
        state="open",
        origins=(),
    )


def _of_the_plant(plant: Plant, person: Person) -> dict[str, object]:
    """Return the parts that show the plant's own drawing, line and cautions."""
    drawn, spot = _drawn(plant)
    mapped = line_map(plant)
    first = next((station.id for station, _ in mapped.line), "")
    return {
        "drawn": drawn,
        "spot": spot,
        "map": mapped,
        "open_to": [one.id for one in stations_of(person, plant)] if person.has(*LEADS_AND_MANAGER) else [],
        "here": "",
        "standings": {first: Place("more", say("more than usual, waits for a word"))},
        "cautions": list(plant.cautions.values())[:3],
    }


def _drawn(plant: Plant) -> tuple[Drawing | None, Drawing | None]:
    """Return the first view of the first model with each way that a zone can stand, and one defect's place on it."""
    for model in plant.models:
        zones, lines = plant.zones_of(model), plant.outlines_of(model)
        for view in plant.views.values():
            own = [zone for zone in zones if zone.view == view.id]
            if own:
                key, marks = own[-1].key, [ZoneMark(1, own[-1].key, None)]
                whole = view_drawing(f"legend-{view.id}", view, zones, _each_look(own), marks, lines)
                return _named(view, whole), _named(view, point_drawing(view, zones, key, None, lines))
    return None, None


def _each_look(zones: list[Zone]) -> dict[str, Look]:
    looks = tuple(LOOK_WORDS)
    return {zone.key: looks[at % len(looks)] for at, zone in enumerate(zones)}


def _named(view: View, svg: str) -> Drawing:
    return Drawing(
        id=f"legend-{view.id}",
        name=view.name,
        marked=True,
        waits=True,
        left=view.left,
        right=view.right,
        svg=svg,
    )
