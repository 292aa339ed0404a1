"""Notes above an instrument's range."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music
from expander.checks.reach import beyond
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Heads above the level's range, and above the widest figure."""
    return beyond(music, up=True)


CHECK = Check(
    id="above-range",
    title="Too high for the instrument",
    finds="A note above the range asked for (warning) or above the widest figure known (error).",
    why="It does not exist on the instrument, or only for a few players on a good day.",
    example="E7 in a flute part: the professional range ends at C7, the widest figure at D7.",
    instead="Move the phrase down an octave, or hand it to a higher instrument of the family.",
    severity=Severity.ERROR,
    source="The range tables of the instrument's file in the catalogue, each with its sources.",
    detect=detect,
    levels="Warnings start at the student, the comfortable (amateur) or the professional range.",
)
