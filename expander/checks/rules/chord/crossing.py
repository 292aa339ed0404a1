"""Lines that cross for long."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.lines import by_start
from expander.checks.music import Chord, Music, Stand
from expander.model.finding import Severity

VOICES = ("soprano", "mezzo-soprano", "alto", "tenor", "baritone", "bass")


def detect(music: Music) -> Iterator[Hit]:
    """Players of one section, and choir voices, whose lower line lies above for a while."""
    stands = [s for s in music.stands if s.instrument and len(s.voices) == 1]
    for upper, lower in pairwise(stands):
        if _related(upper, lower):
            yield from _crossings(music, upper, lower)


def _related(upper: Stand, lower: Stand) -> bool:
    one, two = upper.instrument, lower.instrument
    assert one is not None
    assert two is not None
    if one.family == two.family == "voice":
        return VOICES.index(one.id) < VOICES.index(two.id)
    numbered = upper.numbers and lower.numbers and upper.numbers[0] < lower.numbers[0]
    # Horns are numbered high, low, high, low: only 1 over 2 and 3 over 4 is an order.
    return bool(one.id == two.id and numbered and not (one.id == "horn" and lower.numbers[0] == 3))


def _crossings(music: Music, upper: Stand, lower: Stand) -> Iterator[Hit]:
    first, second = by_start(upper), by_start(lower)
    run: list[Chord] = []
    for tick in sorted(first.keys() & second.keys()):
        crossed = first[tick].heads[0].height < second[tick].heads[0].height
        if crossed and run and music.seconds(run[-1].end, tick) > 1:
            yield from _told(music, upper, lower, run)
            run = []
        if crossed:
            run.append(second[tick])
            continue
        yield from _told(music, upper, lower, run)
        run = []
    yield from _told(music, upper, lower, run)


def _told(music: Music, upper: Stand, lower: Stand, run: list[Chord]) -> Iterator[Hit]:
    if not run or music.seconds(run[0].start, run[-1].end) < figure("crossing", "seconds"):
        return
    yield Hit(
        lower,
        run[0].bar,
        run[0].at,
        f"lies above {upper.name} for {music.seconds(run[0].start, run[-1].end):.0f} seconds.",
        pitch=str(run[0].heads[0].written),
        figure=f"{figure('crossing', 'seconds'):.0f} s",
    )


CHECK = Check(
    id="crossing",
    title="Lines cross for long",
    finds="A second player above the first, or a lower choir voice above a higher, for a while.",
    why="The lower player gets the high part unasked; in a choir the chord changes its colour.",
    example="Alto above soprano for two bars.",
    instead="Change the lines over, if the crossing is not meant as a line of its own.",
    severity=Severity.NOTE,
    source="Common practice, no source.",
    detect=detect,
)
