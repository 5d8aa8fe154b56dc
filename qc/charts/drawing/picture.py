"""A picture as a page needs it: a plain sentence, the table first, the scene that both drawings are made from."""

from dataclasses import dataclass, field

from qc.charts.drawing import as_plotly, as_svg
from qc.charts.drawing.scene import Key, Scene
from qc.charts.drawing.table import Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One chart with everything that stands in for it.

    id: stable, of letters and dashes, unique on a page. says: what it shows, in one or two sentences.
    basis: period, n and denominator. table: its numbers as rows. scene: what is drawn.
    cautions: what a reader must know before believing it. notes: what changed in its weeks, each with its letter.
    method: how its limits were made: why they are of their kind first, the rest for who wants to know.
    """

    id: str
    title: str
    says: str
    basis: str
    table: Table
    scene: Scene
    cautions: tuple[str, ...] = field(default=())
    notes: tuple[str, ...] = field(default=())
    method: tuple[str, ...] = field(default=())

    @property
    def figure(self) -> as_plotly.Figure:
        """Return the scene for plotly, as a plain dict of lists, strings and numbers."""
        return as_plotly.figure(self.scene)

    @property
    def svg(self) -> str:
        """Return the scene as a small drawing."""
        return as_svg.drawing(self.scene, self.id, self.title, self.says)

    @property
    def keys(self) -> tuple[Key, ...]:
        """Return what the drawing's marks mean."""
        return self.scene.keys
