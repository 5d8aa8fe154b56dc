"""The plant's tables: what new ones would change, in words, and every revision that was put in force."""

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import orjson

from qc.domain.tables.plant_changes import PlantChanges, plant_changes
from qc.domain.tables.plant_tables import PlantFaults, TableFault, checked_plant, revision_of
from qc.store.folder.handed_tables import read_handed
from qc.store.reading.reads import Reads


@dataclass(frozen=True, slots=True, kw_only=True)
class TablesReport:
    """Tables that were handed in, held against those in force.

    previous: the revision in force, revision: theirs. came: the tables that came; the others stay. faults: as
    check-plant tells them, then changes is None. notes: how files were read where that was not plain.
    """

    tables: Mapping[str, str]
    previous: str
    revision: str
    came: tuple[str, ...]
    notes: tuple[str, ...]
    faults: tuple[TableFault, ...]
    changes: PlantChanges | None

    @property
    def may_be_taken(self) -> bool:
        """Whether they are without faults, differ in anything, and nothing of it is refused."""
        return self.changes is not None and bool(self.changes.changes) and not self.changes.refused


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionLine:
    """One revision: who put it in force from which day and why, and what it changed; changes None where that cannot
    be told any more, as its tables or those before are not readable by this program."""

    revision: str
    previous: str
    reason: str
    from_day: date
    revised_by: str
    at_console: str
    revised_ms: int
    changes: PlantChanges | None


def tables_report(files: Sequence[tuple[str, bytes]], in_force: Mapping[str, str]) -> TablesReport:
    """Return what taking files, (name, bytes), would change of the tables in force. Raises UnreadableSheet."""
    handed = read_handed(files, in_force)
    previous, revision = revision_of(in_force), revision_of(handed.tables)
    faults: tuple[TableFault, ...] = ()
    changes = None
    try:
        if revision != previous:
            checked_plant(handed.tables, in_force)
        changes = plant_changes(in_force, handed.tables)
    except PlantFaults as wrong:
        faults = wrong.faults
    return TablesReport(
        tables=handed.tables,
        previous=previous,
        revision=revision,
        came=handed.came,
        notes=handed.notes,
        faults=faults,
        changes=changes,
    )


def revision_lines(reads: Reads) -> tuple[RevisionLine, ...]:
    """Return every revision that was put in force, the first one first."""
    return tuple(
        RevisionLine(
            revision=one.revision,
            previous=one.previous,
            reason=one.reason,
            from_day=date.fromisoformat(one.from_day),
            revised_by=one.revised_by,
            at_console=one.at_console,
            revised_ms=one.revised_ms,
            changes=_between(reads, one.previous, one.revision),
        )
        for one in reads.revisions()
    )


@dataclass(frozen=True, slots=True)
class CriteriaRevision:
    """A revision that changed what is found and counted. criteria: how, in words; types: whose counts it concerns."""

    from_day: date
    reason: str
    criteria: tuple[str, ...]
    types: frozenset[str]


def criteria_revisions(reads: Reads) -> tuple[CriteriaRevision, ...]:
    """Return the revisions since whose day what is counted is not what was counted before, the first one first."""
    return tuple(
        CriteriaRevision(one.from_day, one.reason, one.changes.criteria, one.changes.types)
        for one in revision_lines(reads)
        if one.changes is not None and one.changes.criteria
    )


_told: OrderedDict[tuple[str, str], PlantChanges] = OrderedDict()  # by the digests, which never mean other tables
_TOLD = 64


def _between(reads: Reads, before: str, after: str) -> PlantChanges | None:
    if (told := _told.get((before, after))) is not None:
        return told
    kept = [reads.tables_of(revision) for revision in (before, after)]
    try:
        told = plant_changes(*(orjson.loads(tables or "") for tables in kept))
    except (PlantFaults, orjson.JSONDecodeError):
        return None
    _told[before, after] = told
    while len(_told) > _TOLD:
        _told.popitem(last=False)
    return told
