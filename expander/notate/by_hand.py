"""Which hand plays what on the two staves of a keyboard or harp."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from statistics import median

from msgspec import Struct, field
from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events, Line
from expander.model.score import Event
from expander.notate.crossing import settled, source

MIDDLE_C = 60
"""A line whose middle lies here or higher stands on the upper staff."""

WIDEST_HAND = 15
"""Semitones in one event from which a chord is shared between the staves (a tenth is 16)."""


class _Hand(Struct):
    """Lines that one hand plays together: a strand's, from one stave of the sketch."""

    lines: list[Line] = field(default_factory=list)

    @property
    def bars(self) -> set[int]:
        return {bar for line in self.lines for bar in line.bars}

    @property
    def stave(self) -> int | str:
        """Where the lines come from; see `source`."""
        return source(self.lines[0])

    @property
    def side(self) -> int:
        """Which of two staves that is in the sketch, 0 where it is none of two."""
        stave = self.stave
        return self.lines[0].task.strand.sides.get(stave, 0) if isinstance(stave, int) else 0

    @property
    def centre(self) -> float:
        heights = self.heights()
        return median(heights) if heights else MIDDLE_C

    def heights(self) -> list[float]:
        """Of what is written with pitches; of slashes none."""
        return [
            height
            for line in self.lines
            if not line.task.strand.slashes
            for events in line.bars.values()
            for event in events
            for height in _heights(event)
        ]

    @property
    def is_wide(self) -> bool:
        return any(_span(e) > WIDEST_HAND for la in self.lines for b in la.bars.values() for e in b)


def by_hand(lines: Sequence[Line]) -> tuple[list[Line], list[Line]]:
    """Lines for the upper and the lower staff.

    The two staves of a part for two hands stay what they are. Of other lines those of one stave of
    the sketch stay together beside others; where they are alone, each line is for itself, passage
    by passage. They go by register; but where two sound at once, they are the two hands'. Wide
    chords without others beside them are shared at middle C.
    """
    upper: list[_Hand] = []
    lower: list[_Hand] = []
    hands = _hands(lines)
    paired = _paired(hands)
    counts = _counts(hands)
    for hand in hands:
        if hand.stave in paired:
            (upper if hand.side == 1 else lower).append(hand)
        elif hand.is_wide and not _is_beside(hand, counts):
            halves = [_split(line) for line in hand.lines]
            upper.append(_Hand([high for high, _ in halves]))
            lower.append(_Hand([low for _, low in halves]))
        else:
            (upper if hand.centre >= MIDDLE_C else lower).append(hand)
    under = _left_out([h for h in upper if h.stave not in paired], lower, lowest=True)
    over = _left_out([h for h in lower if h.stave not in paired], upper, lowest=False)
    moved = set(map(id, (*under, *over)))
    upper = [*over, *(hand for hand in upper if id(hand) not in moved)]
    lower = [*under, *(hand for hand in lower if id(hand) not in moved)]
    above, below = (frozenset(hand.stave for hand in hands) for hands in (upper, lower))
    return _in_places(upper, 2, below - above), _in_places(lower, 1, above - below)


def _paired(hands: Sequence[_Hand]) -> set[int | str]:
    """The staves whose other hand's stave is there too."""
    sides = {hand.stave: hand.side for hand in hands if hand.side}
    return {
        one
        for stave, side in sides.items()
        if side == 1 and isinstance(stave, int) and sides.get(stave + 1) == 2
        for one in (stave, stave + 1)
    }


def _hands(lines: Sequence[Line]) -> list[_Hand]:
    found: dict[int | str, _Hand] = {}
    for line in lines:
        found.setdefault(source(line), _Hand()).lines.append(line)
    staves = list(found.values())
    counts = _counts(staves)
    return [
        hand
        for stave in staves
        for hand in ([stave] if _is_beside(stave, counts) else _alone(stave))
    ]


def _alone(stave: _Hand) -> Iterator[_Hand]:
    """The lines of a stave, each for itself, and its passages between rests of a bar or more."""
    for lines in _by_desk(stave.lines):
        whole = _Hand(lines)
        for passage in _passages(whole.bars):
            yield _Hand([_within(line, passage) for line in lines if passage & line.bars.keys()])


def _passages(bars: set[int]) -> list[set[int]]:
    found: list[set[int]] = []
    for bar in sorted(bars):
        if found and bar - 1 in found[-1]:
            found[-1].add(bar)
        else:
            found.append({bar})
    return found


def _within(line: Line, bars: set[int]) -> Line:
    if bars >= line.bars.keys():
        return line
    return replace(line, bars={bar: line.bars[bar] for bar in line.bars if bar in bars})


def _by_desk(lines: Sequence[Line]) -> Iterable[list[Line]]:
    found: dict[tuple[str, int], list[Line]] = {}
    for line in lines:
        found.setdefault((line.task.strand.name, line.desk), []).append(line)
    return found.values()


def _counts(hands: Iterable[_Hand]) -> Counter[int]:
    """How many hands have something in each bar."""
    return Counter(bar for hand in hands for bar in hand.bars)


def _is_beside(hand: _Hand, counts: Counter[int]) -> bool:
    """True for what mostly sounds together with something else."""
    bars = hand.bars
    return 2 * sum([counts[bar] > 1 for bar in bars]) > len(bars)


def _in_places(hands: Sequence[_Hand], other: int, theirs: frozenset[int | str]) -> list[Line]:
    """The lines of each hand numbered from 0, with heads on the `other` staff; see `settled`."""
    found: list[Line] = []
    for hand in hands:
        desks = sorted({line.desk for line in hand.lines})
        numbered = [replace(line, desk=desks.index(line.desk)) for line in hand.lines]
        found += [settled(line, other, theirs) for line in numbered]
    return found


def _left_out(mine: Sequence[_Hand], others: Sequence[_Hand], *, lowest: bool) -> list[_Hand]:
    """What one hand has beside other things while the other hand is free, on its outer side."""
    busy = {bar for hand in others for bar in hand.bars}
    sign = 1 if lowest else -1
    staying = sorted((h for h in mine if h.heights()), key=lambda hand: sign * hand.centre)
    counts = _counts(staying)
    found: list[_Hand] = []
    for hand in staying:
        bars = hand.bars
        if 2 * sum([counts[bar] > 1 and bar not in busy for bar in bars]) > len(bars):
            counts.subtract(bars)
            found.append(hand)
            busy |= bars
    return found


def _heights(event: Event[Sounding]) -> list[float]:
    return [float(n.pitch.semitone) for n in event.notes if not isinstance(n.pitch, Drum)]


def _span(event: Event[Sounding]) -> float:
    heights = _heights(event)
    return max(heights) - min(heights) if heights else 0.0


def _split(line: Line) -> tuple[Line, Line]:
    parts: tuple[dict[int, Events], dict[int, Events]] = ({}, {})
    for bar, events in line.bars.items():
        for hand, keep_high in enumerate((True, False)):
            kept = tuple(e for e in (_side(e, keep_high) for e in events) if e)
            if any(e.notes for e in kept):
                parts[hand][bar] = kept
    return replace(line, bars=parts[0]), replace(line, bars=parts[1])


def _side(event: Event[Sounding], keep_high: bool) -> Event[Sounding] | None:
    if not event.notes:
        return event
    notes = tuple(n for n in event.notes if _is_high(n.pitch) == keep_high)
    if len(notes) == len(event.notes):
        return event
    return replace(event, notes=notes) if notes else None


def _is_high(pitch: Sounding | Drum) -> bool:
    return isinstance(pitch, Drum) or pitch.semitone >= MIDDLE_C
