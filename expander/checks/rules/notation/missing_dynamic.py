"""Entries without a dynamic."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand
from expander.model.finding import Severity


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
        before = first
        for chord in stand.chords:
            if chord.bar - before.bar > rest and not _near(chord.bar, marked[stand.index]):
                bars = chord.bar - before.bar - 1
                yield _hit(stand, chord, f"no dynamic after {bars} bars of rest", Severity.NOTE)
            before = chord


def _marked_bars(stand: Stand) -> frozenset[int]:
    """Bars in which the part has a dynamic or a hairpin."""
    return frozenset(
        index
        for index, bar in enumerate(stand.part.bars)
        if any(m.name in ("dynamics", "wedge") for d in bar.directions for m in d.marks)
        or any(m.name == "dynamics" for layer in bar.layers for e in layer for m in e.marks)
    )


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
