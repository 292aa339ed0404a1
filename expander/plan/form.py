"""The form: passages of the rules, or the sketch's own rehearsal marks, as bar indices."""

from __future__ import annotations

from collections.abc import Mapping

from expander.errors import ExpanderError
from expander.model.rules import Passage
from expander.model.score import P, Score, Sections

OPENING = "opening"
"""What the bars before the first rehearsal mark are called."""


def rehearsal_marks(score: Score[P]) -> dict[str, int]:
    """Each rehearsal mark with the index of its bar, in order; the first of a name counts."""
    found: dict[str, int] = {}
    for index in range(len(score.bars)):
        for part in score.parts:
            for direction in part.bars[index].directions:
                mark = direction.first("rehearsal")
                if mark and mark.text.strip():
                    found.setdefault(mark.text.strip(), index)
    return found


def sections(score: Score[P], form: Mapping[str, Passage]) -> Sections:
    """The named sections with their bars. Without a form, one from each rehearsal mark to the next.

    Raises ExpanderError where a passage names bars or marks the score does not have.
    """
    if form:
        return {name: passage_bars(score, passage) for name, passage in form.items()}
    marks = rehearsal_marks(score)
    stops = [*list(marks.values())[1:], len(score.bars)] if marks else []
    return {
        name: range(start, stop) for (name, start), stop in zip(marks.items(), stops, strict=True)
    }


def with_opening(score: Score[P], form: Mapping[str, Passage]) -> dict[str, Passage]:
    """A form of rehearsal marks, with the bars before the first of them as a section too.

    An upbeat alone is no section, nor is anything in a form without marks; where the sketch has
    the name for a mark of its own, it stays that mark's.
    """
    marks = rehearsal_marks(score)
    mark, bar = next(iter(marks.items()), ("", 0))
    before = [each for each in score.bars[:bar] if each.length >= each.nominal]
    if not form or not before or OPENING in form:
        return dict(form)
    return {OPENING: Passage(stop=mark), **form}


def passage_bars(score: Score[P], passage: Passage) -> range:
    """The bar indices of a passage."""
    if passage.first:
        first = _bar(score, passage.first, passage)
        last = _bar(score, passage.last or passage.first, passage, from_end=True)
        return range(first, last + 1)
    marks = rehearsal_marks(score)
    if passage.mark:
        start = _mark(marks, passage.mark, passage)
        return range(start, _next_mark(marks, start, len(score.bars)))
    start = _mark(marks, passage.start, passage) if passage.start else 0
    stop = _mark(marks, passage.stop, passage) if passage.stop else len(score.bars)
    return range(start, stop)


def _next_mark(marks: Mapping[str, int], start: int, end: int) -> int:
    return min((bar for bar in marks.values() if bar > start), default=end)


def _bar(score: Score[P], label: str, passage: Passage, *, from_end: bool = False) -> int:
    """The bar with that number; where numbers repeat, the first (or last) so labelled."""
    if label == "end":
        return len(score.bars) - 1
    found = [i for i, bar in enumerate(score.bars) if bar.number == label]
    if found:
        return found[-1 if from_end else 0]
    numbers = [bar.number for bar in score.bars]
    raise ExpanderError(
        f"there is no bar {label}; the bars are numbered {numbers[0]} to {numbers[-1]}.",
        at=passage.at,
    )


def _mark(marks: Mapping[str, int], name: str, passage: Passage) -> int:
    if name in marks:
        return marks[name]
    have = ", ".join(marks) or "none"
    raise ExpanderError(
        f"there is no rehearsal mark {name!r}; the sketch has: {have}.", at=passage.at
    )
