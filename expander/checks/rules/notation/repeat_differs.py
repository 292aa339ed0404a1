"""Repeats and endings that only some parts have."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.model.finding import Severity
from expander.model.score import Barline


def detect(music: Music) -> Iterator[Hit]:
    """Parts whose repeats or endings differ from most of the others'."""
    if len(music.stands) < 2:
        return
    signed = {i for s in music.stands for i, bar in enumerate(s.part.bars) if bar.barlines}
    for index in sorted(signed):
        signs = [(stand, _signs(stand, index)) for stand in music.stands]
        if not any(sign for _, sign in signs):
            continue
        common, count = Counter(sign for _, sign in signs).most_common(1)[0]
        if 2 * count <= len(signs):
            continue
        for stand, sign in signs:
            if sign != common:
                yield _hit(stand, index, sign, common)


def _signs(stand: Stand, index: int) -> tuple[str, ...]:
    barlines = stand.part.bars[index].barlines
    return tuple(sorted(word for line in barlines for word in _worded(line)))


def _worded(line: Barline) -> Iterator[str]:
    if line.repeat is not None:
        yield f"repeat {line.repeat.get('direction')}"
    if line.ending is not None:
        yield f"ending {line.ending.get('number')} {line.ending.get('type')}"


def _hit(stand: Stand, index: int, found: tuple[str, ...], common: tuple[str, ...]) -> Hit:
    has, others = (", ".join(signs) or "no repeat or ending" for signs in (found, common))
    return Hit(
        stand, index, 0, f"the part has {has}, the other parts have {others}.", figure=others
    )


CHECK = Check(
    id="repeat-differs",
    title="Repeats differ between parts",
    finds="A part whose repeat signs or endings are not those of the other parts.",
    why="At this bar the orchestra comes apart.",
    example="A repeat sign at the end of bar 16 in all parts but the viola's.",
    instead="Give all parts the same repeats and endings.",
    severity=Severity.ERROR,
    source="Common practice: every part has the score's barlines.",
    detect=detect,
)
