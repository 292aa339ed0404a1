"""Entries without a dynamic."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand
from expander.model.finding import Severity
from expander.model.pitch import Written
from expander.model.score import Direction, Event


def detect(music: Music) -> Iterator[Hit]:
    """First entries without any dynamic (warning), and entries after a long rest (note)."""
    marked = {stand.index: _marked_bars(stand) for stand in music.stands}
    if not any(marked.values()):
        return
    rest = int(figure("missing-dynamic", "rest"))
    for stand in music.stands:
        if not stand.chords or (stand.sung and not marked[stand.index]):
            continue
        first = stand.chords[0]
        if not first.hand.dynamic and first.bar not in marked[stand.index]:
            yield _hit(stand, first, "the first entry has no dynamic", Severity.WARNING)
        before = first.bar
        for chord in stand.chords:
            bars = chord.bar - before - 1
            before = chord.bar
            if bars >= rest and not _near(chord.bar, marked[stand.index]):
                yield _hit(stand, chord, f"no dynamic after {bars} bars of rest", Severity.NOTE)


def _marked_bars(stand: Stand) -> frozenset[int]:
    """Bars in which the part has a dynamic or a hairpin."""
    bars = list(enumerate(stand.part.bars))
    found = [i for i, bar in bars if bar.directions and any(map(_levels, bar.directions))]
    if "dynamics" in stand.contents.marks:
        found += [i for i, bar in bars if any(map(_has_level, bar.layers))]
    return frozenset(found)


def _levels(direction: Direction) -> bool:
    return any(mark.name in ("dynamics", "wedge") for mark in direction.marks)


def _has_level(layer: tuple[Event[Written], ...]) -> bool:
    return any(mark.name == "dynamics" for event in layer for mark in event.marks)


def _near(bar: int, marked: frozenset[int]) -> bool:
    return bool({bar - 1, bar} & marked)


def _hit(stand: Stand, chord: Chord, what: str, severity: Severity) -> Hit:
    pitch = str(chord.top.written) if chord.heads else ""
    return Hit(stand, chord.bar, chord.at, f"{what}.", pitch, "a dynamic", severity)


CHECK = Check(
    id="missing-dynamic",
    title="Entry without dynamic",
    finds="A first entry without a dynamic (warning), or none after four bars of rest (note).",
    why="The player has forgotten what held before the rest, or was never told.",
    example="A horn that enters in bar 20 with nothing but notes.",
    instead="Give every first entry a dynamic and say it again after long rests.",
    severity=Severity.WARNING,
    source="Common practice, as in librarians' guidelines for parts.",
    detect=detect,
)
