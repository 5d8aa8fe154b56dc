"""Pictures of weeks that stand below each other on a page have one axis, so that a week stands below itself."""

from collections.abc import Sequence
from dataclasses import replace

from qc.charts.drawing.picture import Picture
from qc.charts.drawing.scene import WEEKS, Places
from qc.domain.words.speaking import say


def on_one_axis(pictures: Sequence[Picture]) -> tuple[Picture, ...]:
    """Return the pictures, those of ISO weeks over all the weeks that any of them has; their tables stay."""
    axes = [picture.scene.x for picture in pictures]
    every = {label for axis in axes if isinstance(axis, Places) and _is_weeks(axis) for label in axis.labels}
    weeks = tuple(sorted(every))
    return tuple(
        replace(picture, scene=replace(picture.scene, x=replace(axis, labels=weeks)))
        if isinstance(axis, Places) and _is_weeks(axis)
        else picture
        for picture, axis in zip(pictures, axes, strict=True)
    )


def _is_weeks(axis: Places) -> bool:
    return axis.title == say(WEEKS)
