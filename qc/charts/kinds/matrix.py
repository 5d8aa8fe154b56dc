"""Counts by two things at once: rows by columns, the number in each cell, a darker ground for more."""

from collections.abc import Sequence

from qc.charts.drawing.scene import Cells, Places, Scene


def matrix_scene(
    rows: Sequence[str], columns: Sequence[str], counts: Sequence[Sequence[int]], row_words: str, column_words: str
) -> Scene:
    """Return the counts in their cells; row_words, column_words: what rows and columns are."""
    cells = Cells(tuple(tuple(row) for row in counts))
    return Scene(Places(column_words, tuple(columns)), Places(row_words, tuple(rows)), (cells,))
