"""Which bar of one version is which of another, and the rows of bars that the merge has.

Bars are held against each other over all parts at once, by their notes. What is equal at both
ends and the bars that occur just once hold the two versions together; between them bars are
paired as much alike as can be: by the parts that are equal, then by rhythm, then by number.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from msgspec import Struct

Pairs = list[tuple[int, int]]

_MOST_COMPARED = 500_000
"""Pairs of bars compared one by one in a passage; longer ones are paired in order."""

_SAME, _SAME_RHYTHM, _SAME_SILENCE, _SAME_NUMBER, _ANY = 1.0, 0.3, 0.05, 0.2, 0.01


class BarShape(Struct, frozen=True):
    """A bar of a whole score for comparing: its parts' notes and rhythms as numbers (0: none)."""

    notes: tuple[int, ...]
    rhythms: tuple[int, ...]
    number: str


def align(one: Sequence[BarShape], other: Sequence[BarShape]) -> Pairs:
    """Pairs of bars (index, index), rising in both; bars in no pair have no counterpart."""
    found: Pairs = []
    _align(one, other, (0, len(one)), (0, len(other)), found)
    return sorted(found)


Stretch = tuple[int, int]


def _align(
    one: Sequence[BarShape], other: Sequence[BarShape], a: Stretch, b: Stretch, found: Pairs
) -> None:
    (a0, a1), (b0, b1) = a, b
    while a0 < a1 and b0 < b1 and one[a0].notes == other[b0].notes:
        found.append((a0, b0))
        a0, b0 = a0 + 1, b0 + 1
    while a0 < a1 and b0 < b1 and one[a1 - 1].notes == other[b1 - 1].notes:
        a1, b1 = a1 - 1, b1 - 1
        found.append((a1, b1))
    if a0 == a1 or b0 == b1:
        return
    anchors = _anchors(one, other, (a0, a1), (b0, b1))
    if not anchors:
        found += _alike(one, other, (a0, a1), (b0, b1))
        return
    edges = [*anchors, (a1, b1)]
    for i, j in edges:
        _align(one, other, (a0, i), (b0, j), found)
        a0, b0 = i + 1, j + 1
    found += anchors


def _anchors(one: Sequence[BarShape], other: Sequence[BarShape], a: Stretch, b: Stretch) -> Pairs:
    """Bars that occur once in each stretch, in the longest rising order."""
    here, there = _once(one, a), _once(other, b)
    pairs = sorted((i, there[notes]) for notes, i in here.items() if notes in there)
    return _rising(pairs)


def _once(bars: Sequence[BarShape], stretch: Stretch) -> dict[tuple[int, ...], int]:
    counts = Counter(bars[i].notes for i in range(*stretch))
    return {bars[i].notes: i for i in range(*stretch) if counts[bars[i].notes] == 1}


def _rising(pairs: Pairs) -> Pairs:
    """The longest run of pairs that rises in both."""
    tops: list[int] = []
    at: list[int] = []
    before: list[int] = []
    for index, (_, j) in enumerate(pairs):
        place = bisect_left(tops, j)
        before.append(at[place - 1] if place else -1)
        tops[place : place + 1] = [j]
        at[place : place + 1] = [index]
    chain: Pairs = []
    index = at[-1] if at else -1
    while index >= 0:
        chain.append(pairs[index])
        index = before[index]
    return chain[::-1]


def _alike(one: Sequence[BarShape], other: Sequence[BarShape], a: Stretch, b: Stretch) -> Pairs:
    """The pairing of two stretches that is most alike."""
    rows, columns = a[1] - a[0], b[1] - b[0]
    if rows * columns > _MOST_COMPARED:
        return list(zip(range(*a), range(*b), strict=False))
    best = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows - 1, -1, -1):
        for j in range(columns - 1, -1, -1):
            paired = best[i + 1][j + 1] + likeness(one[a[0] + i], other[b[0] + j])
            best[i][j] = max(paired, best[i + 1][j], best[i][j + 1])
    return _walked(best, a[0], b[0])


def _walked(best: Sequence[Sequence[float]], a: int, b: int) -> Pairs:
    found: Pairs = []
    i = j = 0
    while i < len(best) - 1 and j < len(best[0]) - 1:
        if best[i][j] > max(best[i + 1][j], best[i][j + 1]):
            found.append((a + i, b + j))
            i, j = i + 1, j + 1
        elif best[i + 1][j] >= best[i][j + 1]:
            i += 1
        else:
            j += 1
    return found


def likeness(one: BarShape, other: BarShape) -> float:
    """How much alike two bars are, above 0."""
    score = _ANY + _SAME_NUMBER * (one.number == other.number)
    for mine, yours, rhythm, beat in zip(
        one.notes, other.notes, one.rhythms, other.rhythms, strict=True
    ):
        if mine == yours:
            score += _SAME if mine else _SAME_SILENCE
        elif rhythm == beat:
            score += _SAME_RHYTHM
    return score


# Rows --------------------------------------------------------------------------------------------


class Row(Struct, frozen=True):
    """A bar of the merge: the indices of the bars it is in the three versions (None: in none)."""

    old: int | None = None
    new: int | None = None
    edited: int | None = None


Same = Callable[[int, int], bool]
"""Whether a bar of the new score has the notes of one of the edited score."""


def rows(
    count: int, to_new: Pairs, to_edited: Pairs, ends: tuple[int, int], same: Same
) -> list[Row]:
    """All bars of all versions in one order. `ends` are the bar counts of new and edited.

    Bars that one side put in stand before the old bar they were put in before; where both sides
    did at one place, the hand's stand first, and what is the same on both sides is one bar.
    """
    new_at, edited_at = dict(to_new), dict(to_edited)
    found: list[Row] = []
    next_new = next_edited = 0
    for old in range(count):
        new, edited = new_at.get(old), edited_at.get(old)
        fresh = range(next_new, next_new if new is None else new)
        by_hand = range(next_edited, next_edited if edited is None else edited)
        found += _put_in(fresh, by_hand, same)
        next_new, next_edited = _after(new, next_new), _after(edited, next_edited)
        found.append(Row(old, new, edited))
    found += _put_in(range(next_new, ends[0]), range(next_edited, ends[1]), same)
    return found


def _after(index: int | None, before: int) -> int:
    return before if index is None else index + 1


def _put_in(fresh: range, by_hand: range, same: Same) -> Iterator[Row]:
    """Rows for bars put in at one place on both sides."""
    left = list(fresh)
    for edited in by_hand:
        twin = next((new for new in left if same(new, edited)), None)
        if twin is None:
            yield Row(edited=edited)
            continue
        yield from (Row(new=new) for new in left if new < twin)
        yield Row(new=twin, edited=edited)
        left = [new for new in left if new > twin]
    yield from (Row(new=new) for new in left)
