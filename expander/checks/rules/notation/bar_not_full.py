"""Bars that hold less or more than they should."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

from msgspec.structs import replace

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.model.finding import Severity
from expander.model.pitch import Written
from expander.model.score import Bar, Event, PartBar

Events = tuple[Event[Written], ...]


APART = 0.25
"""Share of bars with parts of different lengths from which the barring itself is the fault."""

FIRST = 3
"""So many bars of a part are told one by one; more of them are counted in one finding."""


def detect(music: Music) -> Iterator[Hit]:
    """Bars of one part that differ from the others, gaps in a stave, bars that miss the metre."""
    hits = list(_all(music))
    bars = {hit.bar for hit in hits if hit.stand}
    if len(bars) > max(FIRST, APART * len(music.score.bars)) and len(music.stands) > 1:
        yield _apart(music, hits, len(bars))
        return
    by_stand: dict[int, list[Hit]] = {}
    for hit in hits:
        by_stand.setdefault(hit.stand.index if hit.stand else -1, []).append(hit)
    for mine in by_stand.values():
        yield from mine[:FIRST] if len(mine) > FIRST + 1 else mine
        if len(mine) > FIRST + 1:
            message = f"{len(mine) - FIRST} more bars of this kind follow, to bar "
            last = music.score.bars[mine[-1].bar].number
            yield replace(mine[FIRST], message=f"{message}{last}; this is the first of them.")


def _apart(music: Music, hits: list[Hit], count: int) -> Hit:
    """The one finding for a score whose parts are barred each for itself."""
    message = f"in {count} of {len(music.score.bars)} bars the parts do not have the same length."
    return replace(hits[0], stand=None, at=0, message=message, severity=Severity.ERROR)


def _all(music: Music) -> Iterator[Hit]:
    ends = Ends()
    rows = zip(*[ends.of(stand) for stand in music.stands], strict=True)
    irregular = _irregular(music)
    for index, row in enumerate(rows):
        common = _commonest(row)
        if row.count(common) < len(row):
            yield from _odd_ones(music, index, row, common)
        if index in irregular and common not in (0, music.score.bars[index].nominal):
            yield _score_hit(music, index, common)


def _odd_ones(music: Music, index: int, row: tuple[int, ...], common: int) -> Iterator[Hit]:
    """What is to be said of parts that end elsewhere than most in a bar, or have a gap."""
    for stand, end in zip(music.stands, row, strict=True):
        if end and abs(end) != common:
            yield _part_hit(music, stand, index, abs(end), common)
        elif end < 0:
            yield from _gaps(music, stand, index)


def _commonest(row: tuple[int, ...]) -> int:
    """The length of most; of as many the first, 0 for none."""
    if row.count(row[0]) == len(row):
        return abs(row[0])
    lengths = [abs(end) for end in row if end]
    return Counter(lengths).most_common(1)[0][0]


class Ends:
    """The tick at which the music of a bar ends, negative where it has a gap; 0 for none.

    Those of layers are kept by the identity of their events.
    """

    def __init__(self) -> None:
        self._kept: dict[int, int] = {}

    def of(self, stand: Stand) -> list[int]:
        """The end of each bar: it has no gap where none of its layers has one."""
        return [self._bar(bar.layers) for bar in stand.part.bars]

    def _bar(self, layers: tuple[Events, ...]) -> int:
        if len(layers) == 1:
            return self._layer(layers[0])
        ends = [self._layer(events) for events in layers if events]
        end = max(map(abs, ends), default=0)
        return end if all([one >= 0 for one in ends]) else -end

    def _layer(self, events: Events) -> int:
        found = self._kept.get(id(events))
        if found is None:
            end = events[-1].end if events else 0
            found = self._kept[id(events)] = end if _whole(events) else -end
        return found


def _gaps(music: Music, stand: Stand, index: int) -> Iterator[Hit]:
    bar = stand.part.bars[index]
    for staff in range(1, stand.part.staves + 1):
        layers = _layers_of(stand, bar, staff)
        hole = _hole(layers) if layers else None
        if hole is not None:
            yield Hit(
                stand,
                index,
                hole,
                "there is a gap: neither a note nor a rest stands here.",
                figure=_length(music, music.score.bars[index].length),
                severity=Severity.WARNING,
            )


def _layers_of(stand: Stand, bar: PartBar[Written], staff: int) -> list[Events]:
    pairs = zip(stand.part.layers, bar.layers, strict=True)
    return [events for layer, events in pairs if events and layer.staff == staff]


def _hole(layers: list[Events]) -> int | None:
    """The first tick that no layer of a stave covers before its music ends; None for no gap."""
    if any(_whole(events) for events in layers):
        return None
    spans = sorted((e.at, e.end) for events in layers for e in events)
    covered = 0
    for at, end in spans:
        if at > covered:
            return covered
        covered = max(covered, end)
    return None


def _whole(events: Events) -> bool:
    """True where each event begins where the last one ended, from the start."""
    now = 0
    for event in events:
        if event.at > now:
            return False
        now = event.at + event.duration
    return True


def _part_hit(music: Music, stand: Stand, index: int, found: int, common: int) -> Hit:
    word = "less" if found < common else "more"
    return Hit(
        stand,
        index,
        min(found, common),
        f"the bar holds {_length(music, found)}, {word} than the {_length(music, common)} of "
        "the other parts.",
        figure=_length(music, common),
    )


# ------------------------------------------------------- bars of the whole score


def _irregular(music: Music) -> frozenset[int]:
    """Bars that miss their metre and are no pickup, no part of a split bar and no cadenza."""
    bars = music.score.bars
    wrong = [i for i, bar in enumerate(bars) if _misses(bars, i) and not _free(music, i)]
    return frozenset(wrong) if len(wrong) * 4 <= len(bars) or len(bars) < 4 else frozenset()


def _misses(bars: tuple[Bar, ...], index: int) -> bool:
    bar = bars[index]
    if bar.length == bar.nominal or not bar.time.beats or bar.implicit or not bar.nominal:
        return False
    if bar.length > bar.nominal:
        return True
    return not _part_of_a_bar(bars, index)


def _part_of_a_bar(bars: tuple[Bar, ...], index: int) -> bool:
    """True for pickups and for what a pickup or a repeat leaves of a bar."""
    if index in (0, len(bars) - 1):
        return True
    missing = bars[index].nominal - bars[index].length
    near = (bars[0], bars[index - 1], *bars[index + 1 : index + 2])
    return any(other.length == missing for other in near)


def _free(music: Music, index: int) -> bool:
    """True beside repeats and double bars, and under words for free time."""
    marks = [
        barline
        for stand in music.stands[:1]
        for bar in stand.part.bars[max(0, index - 1) : index + 2]
        for barline in bar.barlines
    ]
    if any(mark.repeat or mark.ending or mark.style for mark in marks):
        return True
    said = (w.plain for stand in music.stands for w in stand.words if w.bar == index)
    return any("caden" in text or "ad lib" in text or "libero" in text for text in said)


def _score_hit(music: Music, index: int, found: int) -> Hit:
    bar = music.score.bars[index]
    word = "shorter" if found < bar.nominal else "longer"
    return Hit(
        None,
        index,
        0,
        f"the bar is {word} than its metre in all parts: {_length(music, found)} instead of "
        f"{_length(music, bar.nominal)}.",
        figure=_length(music, bar.nominal),
        severity=Severity.ERROR if not music.full else Severity.WARNING,
    )


def _length(music: Music, ticks: int) -> str:
    quarters = Fraction(ticks, music.score.grid)
    return f"{quarters} quarter{'' if quarters == 1 else 's'}"


CHECK = Check(
    id="bar-not-full",
    title="Bar not full, or too full",
    finds="A bar of one part with less or more in it than the others, or that misses its metre.",
    why="The players come apart at this bar, and notation software shifts everything after it.",
    example="Three quarters in a bar of 4/4 while the other parts have four.",
    instead="Add the missing rest, or take out what is too much.",
    severity=Severity.ERROR,
    source="The time signature.",
    detect=detect,
)
