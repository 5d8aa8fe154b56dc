"""Numbers that are no figures: names, dates and times, each pattern with its reason. Nothing else is passed over."""

import re
from functools import cache

from tests.recount.plant import PlantTables

DAY = r"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) \d{4}"
SHAPES = (
    (r"\d{4}-W\d\d", "an ISO week"),
    (r"\bW\d\d\b", "an ISO week on an axis"),
    (rf"{DAY}(?: \d\d:\d\d)?", "a day, or an instant"),
    (r"\b\d{4}-\d\d-\d\d(?: \d\d:\d\d)?\b", "a day as ISO 8601 writes it"),
    (r"\b[A-Z0-9]{17}\b", "a full chassis number (ISO 3779: 17 characters)"),
    (r"\b\d\d-\d\d\b(?=$)", "month and day on an axis"),
    (r"\bBS-\d+-[A-Z]\b", "a build sheet's name"),
    (r"\b[0-9a-f]{8}(?:[0-9a-f]{56})?\b(?=[ ;.,]|$)", "a digest, or its beginning"),
)  # fmt: skip


class Known:
    """The names of one plant and its people, and the shapes of dates and weeks."""

    def __init__(self, plant: PlantTables, people: tuple[str, ...], shops: tuple[str, ...]) -> None:
        names = {*people, *shops, *plant.stations, *plant.types, *plant.tests, *plant.models}
        names |= {one["group"] for one in plant.types.values()}
        for rows in (plant.stations, plant.types, plant.tests):
            names |= {one["name"] for one in rows.values()}
        names |= {one["name"] for one in plant.zones}
        names |= {one["name"] for one in plant.models.values()}
        with_figures = sorted((one for one in names if re.search(r"\d", one)), key=len, reverse=True)
        words = "|".join(map(re.escape, with_figures))
        names_alone = rf"(?<![\w-])(?:{words})(?!\w)"
        self._pattern = re.compile("|".join([names_alone, *(f"(?:{shape})" for shape, _ in SHAPES)]))
        self.masked = cache(self._masked)

    def _masked(self, text: str) -> str:
        """Return the words with every name, date and time blanked out, everything else where it was."""
        return self._pattern.sub(lambda found: " " * len(found.group()), text)
