"""A unit looked at twice, in rows: who found what, which zones, what was joined."""

from record_rows import HOUR, RowRecord, noon

ZONES = ("front.panel", "front.gas")


def relook(
    record: RowRecord, unit: str, day: str, *, first: str = "I1", second: str = "I2", shift: str = "early",
    both: int = 0, only_first: int = 0, only_second: int = 0, type_: str = "EXT-01", zones: tuple[str, ...] = ZONES,
    second_zones: tuple[str, ...] | None = None,
) -> None:  # fmt: skip
    """Write a unit with a first presentation and a blind second look; what both found stands as joined duplicates.

    Ids: <unit>-D01, <unit>-again; <unit>-b0 joined with <unit>-b0-again, <unit>-f0, <unit>-s0.
    """
    record.seen_through(unit, day, inspector=first, shift=shift)
    again = f"{unit}-again"
    record.looked(again, unit, day, purpose="relook", inspector=second, shift=shift, at=HOUR)
    record.connection.execute("UPDATE inspection SET begun_ms = ? WHERE id = ?", (noon(day), again))
    for inspection, seen in ((f"{unit}-D01", zones), (again, zones if second_zones is None else second_zones)):
        for zone in seen:
            record.put("zone_look", inspection=inspection, zone=zone, looked=1, number=1)
    for n in range(both):
        found(record, f"{unit}-b{n}", unit, day, f"{unit}-D01", first, type_)
        found(record, f"{unit}-b{n}-again", unit, day, again, second, type_, duplicate_of=f"{unit}-b{n}")
    for n in range(only_first):
        found(record, f"{unit}-f{n}", unit, day, f"{unit}-D01", first, type_)
    for n in range(only_second):
        found(record, f"{unit}-s{n}", unit, day, again, second, type_, zone="front.gas")


def found(
    record: RowRecord, id_: str, unit: str, day: str, inspection: str, finder: str, type_: str = "EXT-01",
    zone: str = "front.panel", duplicate_of: str | None = None, why: str | None = None,
) -> None:  # fmt: skip
    """Write a defect by a finder; duplicate_of withdraws it as the twin of another, why for another reason."""
    why = "duplicate" if duplicate_of else why
    state = "withdrawn" if why else "open"
    record.defect(id_, unit, day, inspection=inspection, type_=type_, zone=zone, state=state, withdrawn_why=why)
    record.connection.execute(
        "UPDATE defect SET finder = ?, duplicate_of = ? WHERE id = ?", (finder, duplicate_of, id_)
    )
