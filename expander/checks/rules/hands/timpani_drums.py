"""More pitches than kettledrums."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import limit
from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.struck import Grip, grips, names
from expander.checks.switching import cited
from expander.model.finding import Severity

STICKS = 2


def detect(music: Music) -> Iterator[Hit]:
    """More than two notes at once, and bars with more pitches than drums."""
    for stand in music.stands:
        if stand.instrument and stand.instrument.id == "timpani":
            yield from _at_once(stand)
            yield from _in_a_bar(stand)


def _at_once(stand: Stand) -> Iterator[Hit]:
    for grip in grips(stand, STICKS + 1):
        if len(set(grip.heights)) > STICKS * stand.players:
            yield Hit(
                stand,
                grip.first.bar,
                grip.first.at,
                f"{names(grip)} at once: a player has two sticks.",
                figure=f"{STICKS} at once",
            )


def _in_a_bar(stand: Stand) -> Iterator[Hit]:
    assert stand.instrument is not None
    row = limit("timpani", "usual drums", stand.instrument)
    by_bar: dict[int, list[Grip]] = {}
    for grip in grips(stand):
        by_bar.setdefault(grip.first.bar, []).append(grip)
    for here in by_bar.values():
        pitches = {height for grip in here for height in grip.heights}
        if row is not None and len(pitches) > int(row.value) * stand.players:
            yield Hit(
                stand,
                here[0].first.bar,
                here[0].first.at,
                f"{len(pitches)} pitches in one bar; the usual set has {row.value:g} drums.",
                figure=f"{row.value:g} drums",
                source=cited(row),
            )


CHECK = Check(
    id="timpani-drums",
    title="More pitches than kettledrums",
    finds="More than two timpani notes at once, or more pitches in a bar than four drums have.",
    why="One drum has one pitch at a time, and the player two sticks.",
    example="A bar with D, F, G, A and C.",
    instead="Keep to the pitches of the drums; basses and bassoons can have the rest.",
    severity=Severity.ERROR,
    source="J. J. Papastefan, Timpani Sizes and Ranges (published).",
    detect=detect,
)
