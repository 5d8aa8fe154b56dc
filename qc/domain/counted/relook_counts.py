"""Count tables of paired re-looks: two inspectors at the same unit, the second blind to what the first found."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RelookPair:
    """Units that ``first`` presented and ``second`` looked at again. shift: of the first look."""

    first: str
    second: str
    shift: str
    units: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RelookCell:
    """Defects of one type in zones that both looked at, by who found them; each defect stands in one of the three.

    by_look: the look is meant to find the type (its first point is an inspection); False: only a test bay does.
    """

    first: str
    second: str
    shift: str
    type: str
    by_look: bool
    only_first: int
    only_second: int
    both: int


@dataclass(frozen=True, slots=True)
class RelookCounts:
    """Paired re-looks of a slice, by the day of the second look; pairs and cells in code order.

    Left out and told: repaired_between (units repaired between the two looks, so that the second could not find the
    same), unpaired (second looks without a first presentation by somebody else before them, or not ended), one_zone
    (defects in a zone that only one of the two looked at), known_before (defects that another point or person had
    recorded). alike: pairs of records of one type and zone, one of each look, that nobody has joined or told apart;
    they count as two defects until then.
    """

    pairs: tuple[RelookPair, ...]
    cells: tuple[RelookCell, ...]
    repaired_between: int
    unpaired: int
    one_zone: int
    known_before: int
    alike: int


@dataclass(frozen=True, slots=True)
class FalseCalls:
    """What a person recorded at inspection points, and how much of it was withdrawn as no defect.

    Duplicates are in neither. By the day found.
    """

    inspector: str
    recorded: int
    not_a_defect: int
