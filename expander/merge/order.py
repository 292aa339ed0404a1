"""The merged score's parts and bars: which there are, in which order, how long, how numbered."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from expander.merge.align import Row
from expander.merge.choose import Verdict, choose
from expander.merge.matching import Matched
from expander.merge.part import EDITED, NEW, Trio
from expander.merge.same import value_sign
from expander.model.score import Bar, Document


def trios(counts: tuple[int, int, int], to_new: Matched, to_edited: Matched) -> list[Trio]:
    """Every part of every version once; `counts` are those of old, new and edited parts."""
    found = [Trio(o, to_new.to[o], to_edited.to[o]) for o in range(counts[0])]
    found += [Trio(new=n) for n in range(counts[1]) if n not in to_new.to]
    found += [Trio(edited=e) for e in range(counts[2]) if e not in to_edited.to]
    return found


def moved_by_hand(every: Sequence[Trio], staying: Sequence[int]) -> bool:
    """Whether the edited score has its parts in another order than the old one."""
    by_hand = [i for i in _by(every, staying, EDITED) if every[i].old is not None]
    return by_hand != sorted(by_hand, key=lambda i: every[i].old or 0)


def part_order(every: Sequence[Trio], staying: Sequence[int]) -> list[int]:
    """The parts that stay, in the new score's order unless the hand has moved parts.

    Parts that are in one version only stand after the part they stood after there.
    """
    first, second = (EDITED, NEW) if moved_by_hand(every, staying) else (NEW, EDITED)
    order = _by(every, staying, first)
    before: int | None = None
    for index in _by(every, staying, second):
        if index not in order:
            order.insert(order.index(before) + 1 if before is not None else 0, index)
        before = index
    return order


def _by(every: Sequence[Trio], staying: Sequence[int], side: str) -> list[int]:
    """The parts a version has, in its order."""
    here = [i for i in staying if getattr(every[i], side) is not None]
    return sorted(here, key=lambda i: int(getattr(every[i], side)))


def system_bars(
    rows: Sequence[Row], old: Document, new: Document, edited: Document, *, keep_edited: bool
) -> tuple[tuple[Bar, ...], tuple[str, ...]]:
    """The bars of the rows, and for each row the version all parts must follow ("" for none)."""
    bars: list[Bar] = []
    forced: list[str] = []
    for row in rows:
        three = [
            None if index is None else score.bars[index]
            for score, index in ((old, row.old), (new, row.new), (edited, row.edited))
        ]
        bar, side = _chosen(three[0], three[1], three[2], keep_edited=keep_edited)
        bars.append(bar)
        forced.append(side)
    labels = _labels(rows, new, edited)
    return _numbered(bars, labels), tuple(forced)


def _chosen(
    old: Bar | None, new: Bar | None, edited: Bar | None, *, keep_edited: bool
) -> tuple[Bar, str]:
    if old is None or new is None or edited is None:
        bar = edited or new or old
        assert bar is not None
        return bar, ""
    choice = choose(_sign(old), _sign(new), _sign(edited), keep_edited=keep_edited)
    from_new = choice.verdict is Verdict.CHANGE or (
        choice.verdict is Verdict.CONFLICT and not keep_edited
    )
    time = choose(old.time, new.time, edited.time, keep_edited=from_new is False).value
    bar = new if from_new else edited
    if value_sign(time) == value_sign(bar.time):
        bar = replace(bar, time=time)
    side = "" if new.length == edited.length else NEW if from_new else EDITED
    return bar, side


def _sign(bar: Bar) -> tuple[object, ...]:
    return bar.length, value_sign(bar.time), bar.implicit


def _labels(rows: Sequence[Row], new: Document, edited: Document) -> list[str] | None:
    """The printed numbers of the version that has all of the merged score's bars and no more."""
    for score, have in ((edited, [r.edited for r in rows]), (new, [r.new for r in rows])):
        if have == list(range(len(score.bars))):
            return [bar.number for bar in score.bars]
    return None


def _numbered(bars: Sequence[Bar], labels: Sequence[str] | None) -> tuple[Bar, ...]:
    """The bars with their starts and numbers; counted through where no version has them all."""
    number = int(next((bar.number for bar in bars if bar.number.isdigit()), "1"))
    at = 0
    made: list[Bar] = []
    for index, bar in enumerate(bars):
        label = labels[index] if labels else bar.number
        if not labels and label.isdigit():
            label = str(number)
            number += 1
        made.append(replace(bar, start=at, number=label))
        at += bar.length
    return tuple(made)
