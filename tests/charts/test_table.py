"""Which tables need a page's width, so that a phone gets their rows as blocks and not a drag sideways."""

import pytest

from qc.charts.drawing.table import Column, Row, Table

CODE, NAME, TWO_NAMES = "S07", "S07 Wall panels bond, east", "S10 Exterior trim: EXT-02 Sealant untidy"


@pytest.mark.parametrize(
    ("head", "columns", "has_ranges", "wide"),
    [
        (CODE, 7, False, False),
        (CODE, 8, False, True),
        (CODE, 4, True, False),
        (CODE, 5, True, True),
        (NAME, 4, False, False),
        (NAME, 5, False, True),
        (TWO_NAMES, 3, False, False),
        (TWO_NAMES, 4, False, True),
    ],
)
def test_the_longer_the_heads_of_its_rows_the_fewer_columns_fit(head, columns, has_ranges, wide):
    heads = tuple(Column(str(place)) for place in range(columns))
    table = Table("A table", heads, (Row(head, ("1",) * (columns - 1)),), has_ranges=has_ranges)

    assert table.is_wide is wide
