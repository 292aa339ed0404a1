"""Slurs and other marks with two ends, where a row passes from one line to another.

What a line began and the row does not go on with is ended at the line's last note in it, or
before its next rest; an end whose beginning is not there is taken away.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from expander.model.pitch import Sounding
from expander.model.plan import Events
from expander.model.score import Event, Mark, Note
from expander.model.spans import span_of

TWO_ENDED = frozenset({"slur", "glissando", "slide", "wavy-line"})
"""Marks that are ended early; a tremolo between two notes is left to whoever writes the part."""

Key = tuple[str, str]
Spot = tuple[int, int]


def runs(sources: Mapping[int, object]) -> list[list[int]]:
    """Neighbouring bars with one source."""
    found: list[list[int]] = []
    for bar in sorted(sources):
        last = found[-1][-1] if found else -2
        if last == bar - 1 and sources[last] == sources[bar]:
            found[-1].append(bar)
        else:
            found.append([bar])
    return found


def mended(cells: Mapping[int, Events], sources: Mapping[int, object]) -> dict[int, Events]:
    """The cells of a row with whole spans; `sources` names the line of each bar."""
    done = dict(cells)
    for run in runs({bar: sources[bar] for bar in cells}):
        if any(_spans(event) for bar in run for event in cells[bar]):
            done |= _mended_run(cells, run)
    return done


def _spans(event: Event[Sounding]) -> bool:
    marks = (*event.marks, *(m for n in event.notes for m in n.marks))
    return any(m.name in TWO_ENDED for m in marks)


def _mended_run(cells: Mapping[int, Events], run: Sequence[int]) -> dict[int, Events]:
    opened: dict[Key, Spot] = {}
    wrong: dict[Spot, set[tuple[Key, str]]] = {}
    before_rest: dict[tuple[Key, Spot], Spot | None] = {}
    last: Spot | None = None
    for bar in run:
        for index, event in enumerate(cells[bar]):
            if not event.notes:
                before_rest |= {o: last for o in opened.items() if o not in before_rest}
                continue
            last = (bar, index)
            for mark in _marks(event):
                _follow(mark, last, opened, wrong)
    closed = {key: before_rest.get((key, spot), last) for key, spot in opened.items()}
    ends = {key: closed[key] for key, spot in opened.items() if spot != closed[key]}
    for key, spot in opened.items():
        if spot == closed[key]:
            wrong.setdefault(spot, set()).add((key, "start"))
    return {
        bar: tuple(
            _with_ends(_without(event, wrong.get((bar, i), set())), ends, (bar, i))
            for i, event in enumerate(cells[bar])
        )
        for bar in run
    }


def _marks(event: Event[Sounding]) -> list[Mark]:
    """Ends before beginnings, as a note may end one slur and begin the next of its number."""
    found = (*event.marks, *(m for n in event.notes for m in n.marks))
    return sorted(found, key=lambda m: m.get("type") != "stop")


def _follow(
    mark: Mark,
    spot: Spot,
    opened: dict[Key, Spot],
    wrong: dict[Spot, set[tuple[Key, str]]],
) -> None:
    if mark.name not in TWO_ENDED:
        return
    key = span_of(mark)
    if mark.get("type") == "start":
        opened[key] = spot
    elif mark.get("type") == "stop" and opened.pop(key, None) is None:
        wrong.setdefault(spot, set()).add((key, "stop"))


def _without(event: Event[Sounding], wrong: set[tuple[Key, str]]) -> Event[Sounding]:
    if not wrong:
        return event
    return replace(
        event,
        marks=tuple(m for m in event.marks if not _is_wrong(m, wrong)),
        notes=tuple(_note_without(n, wrong) for n in event.notes),
    )


def _note_without(note: Note[Sounding], wrong: set[tuple[Key, str]]) -> Note[Sounding]:
    kept = tuple(m for m in note.marks if not _is_wrong(m, wrong))
    return note if kept == note.marks else replace(note, marks=kept)


def _is_wrong(mark: Mark, wrong: set[tuple[Key, str]]) -> bool:
    return (span_of(mark), mark.get("type")) in wrong


def _with_ends(
    event: Event[Sounding], ends: Mapping[Key, Spot | None], spot: Spot
) -> Event[Sounding]:
    """The event with the ends of what was left open. Glides to a note that is gone are not."""
    new = tuple(
        Mark("notations", name, (("type", "stop"), ("number", number)))
        for (name, number), place in ends.items()
        if place == spot and name == "slur"
    )
    return replace(event, marks=(*event.marks, *new)) if new else event
