"""Notes below an instrument's range."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music
from expander.checks.reach import beyond
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Heads below the level's range, and below the widest figure."""
    return beyond(music, up=False)


CHECK = Check(
    id="below-range",
    title="Too low for the instrument",
    finds="A note below the range asked for (warning) or below the widest figure known (error).",
    why="The instrument ends above it; the player leaves it out or plays another octave.",
    example="F3 in a violin part, whose lowest string is G3.",
    instead="Move the phrase up an octave, or give it to a lower instrument of the family.",
    severity=Severity.ERROR,
    source="The range tables of the instrument's file in the catalogue, each with its sources.",
    detect=detect,
    levels="Warnings start at the student, the comfortable (amateur) or the professional range.",
)
