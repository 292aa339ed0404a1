"""Marks of a shared staff for the player they are meant for.

A mark that names somebody is theirs; one that stands with a voice goes to the players of the
voice; of two rivals the one above the staff is the upper player's; all others go to those who
play there. Labels are left out: in a part of their own they say nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.dynamics import is_loud
from expander.model.pitch import Written
from expander.model.score import Direction, Event, LayerId, Mark, PartBar
from expander.model.spans import SPANNING, begins, ends, span_of
from expander.model.words import is_system_mark
from expander.parts.apart import Taken
from expander.parts.labels import Label, label_in, places

Places = tuple[int, ...]


class Staff(Struct, frozen=True):
    """A shared staff: its number in the part, its players' numbers, and the part's layers."""

    number: int
    numbers: tuple[int, ...]
    layers: tuple[LayerId, ...]


def dealt_signs(
    bars: Sequence[PartBar[Written]], staff: Staff, taken: Taken
) -> list[list[tuple[Direction, ...]]]:
    """For each player and bar, the directions that are theirs; system marks are left out."""
    dealer = _Dealer(staff, taken)
    found: list[list[tuple[Direction, ...]]] = [[] for _ in staff.numbers]
    for index, content in enumerate(bars):
        mine = [
            d for d in content.directions if d.staff in (0, staff.number) and not is_system_mark(d)
        ]
        rows = [pair for d in mine for pair in dealer.whose(index, d, mine)]
        for place, row in enumerate(found):
            row.append(tuple(d for whom, d in rows if place in whom))
    return found


class _Dealer:
    """Deals directions, with the spans that are open in mind."""

    def __init__(self, staff: Staff, taken: Taken) -> None:
        self.staff, self.taken = staff, taken
        self.everyone = tuple(range(len(staff.numbers)))
        self.open: dict[tuple[str, str], Places] = {}

    def whose(
        self, index: int, direction: Direction, beside: Sequence[Direction]
    ) -> Iterator[tuple[Places, Direction]]:
        """Whom a direction is for, as they read it; nothing for a mere label."""
        plain = replace(direction, staff=0, voice="")
        label = label_in(direction)
        if label is not None:
            yield from self._labelled(plain, label)
            return
        whom = self._closed(direction) or self._meant(index, direction, beside)
        for mark in direction.marks:
            if mark.name in SPANNING and begins(mark):
                self.open[span_of(mark)] = whom
        if len(whom) < len(self.everyone):
            plain = replace(plain, placement=_usual_side(plain))
        yield whom, plain

    def _labelled(self, direction: Direction, label: Label) -> Iterator[tuple[Places, Direction]]:
        marks = tuple(m for m in (_without_label(m, label) for m in direction.marks) if m)
        if marks:
            yield places(label, self.staff.numbers), replace(direction, marks=marks)

    def _closed(self, direction: Direction) -> Places:
        """Those for whom a span was opened that ends here."""
        for mark in direction.marks:
            if mark.name in SPANNING and not begins(mark):
                known = self.open.get(span_of(mark), ())
                if ends(mark):
                    self.open.pop(span_of(mark), None)
                return known
        return ()

    def _meant(self, index: int, direction: Direction, beside: Sequence[Direction]) -> Places:
        by_voice = self._of_voice(index, direction.voice)
        if by_voice:
            return by_voice
        playing = self._playing(index)
        told = any(d.voice for d in beside)  # marks without a voice are then meant for all
        if len(playing) > 1 and not told and _has_rival(direction, beside):
            upper = direction.placement == "above"
            return playing[:-1] if upper else playing[1:]
        return self._at(index, direction.at) or self.everyone

    def _of_voice(self, index: int, voice: str) -> Places:
        """The players of the document's voice in a bar of several voices."""
        layers = self.taken.layers_of[index]
        if len(layers) < 2 or not voice:
            return ()
        named = [i for i in layers if self.staff.layers[i].voice == voice]
        return tuple(sorted(layers[named[0]])) if named else ()

    def _playing(self, index: int) -> Places:
        return tuple(p for p in self.everyone if any(e.notes for e in self._events(p, index)))

    def _events(self, place: int, index: int) -> list[Event[Written]]:
        return [e for voice in self.taken.voices[place][index] for e in voice]

    def _at(self, index: int, tick: int) -> Places:
        """Those who begin a note at a tick, else those who sound there, else the next to come."""
        sounding = {p: [e for e in self._events(p, index) if e.notes] for p in self.everyone}
        tests = (
            [p for p, es in sounding.items() if any(e.at == tick for e in es)],
            [p for p, es in sounding.items() if any(e.at <= tick < e.end for e in es)],
            [p for p, es in sounding.items() if any(e.at >= tick for e in es)],
        )
        return next((tuple(found) for found in tests if found), ())


def _without_label(mark: Mark, label: Label) -> Mark | None:
    if mark.name != "words":
        return mark
    return replace(mark, text=label.rest) if label.rest else None


def _has_rival(direction: Direction, beside: Sequence[Direction]) -> bool:
    """Whether the bar has loudness on both sides of the staff, one for each player."""
    if not is_loud(direction):
        return False
    upper = direction.placement == "above"
    return any((d.placement == "above") != upper and is_loud(d) for d in beside)


def _usual_side(direction: Direction) -> str:
    """Loudness stands below the staff again where the player is alone on it."""
    loud = is_loud(direction)
    return "below" if loud and direction.placement == "above" else direction.placement
