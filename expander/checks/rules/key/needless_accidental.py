"""Accidentals that say nothing new."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.accidentals import amiss
from expander.checks.check import Check, Hit
from expander.checks.music import Music
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Printed accidentals that the signature or the bar makes superfluous, and no reminder."""
    for stand in music.stands:
        for seen in amiss(music, stand):
            if seen.shown and not (seen.needed or seen.reminder or seen.courtesy):
                yield Hit(
                    stand,
                    seen.chord.bar,
                    seen.chord.at,
                    f"the accidental of {seen.head.written} is not needed: nothing altered this "
                    "letter in this bar or the one before.",
                    pitch=str(seen.head.written),
                    figure="key signature and bar",
                )


CHECK = Check(
    id="needless-accidental",
    title="More accidentals than needed",
    finds="A printed accidental that the signature already has and that reminds of nothing.",
    why="The reader looks for the change that it seems to take back.",
    example="A sharp before F in G major.",
    instead="Take it away, or put it in brackets where it is meant as a courtesy.",
    severity=Severity.NOTE,
    source="The rules of notation; courtesy accidentals are common practice.",
    detect=detect,
)
