"""From the distribution to staves: what each chair plays, as parts of a sketch.

Every head keeps the numbers of the original notes it stands for: its own, and those of the lines
that it stands for because they double it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from expander.fitting.fit import octave_moved
from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Note
from expander.revoice.casting import Cast, Given
from expander.revoice.chairs import Chair
from expander.revoice.chording import as_chords
from expander.revoice.lines import Line, height
from expander.revoice.octaves import folded
from expander.revoice.spans import mended


class Seated(Struct):
    """What one chair plays: its cells and the lines they come from, by bar.

    `folded` are bars in which single notes had to change octave to be playable.
    """

    chair: Chair
    cells: dict[int, Events] = field(default_factory=dict)
    given: dict[int, Given] = field(default_factory=dict)
    shifts: dict[int, int] = field(default_factory=dict)
    folded: list[int] = field(default_factory=list)


def seated(
    cast: Cast,
    octaves: Mapping[tuple[int, int], int],
    lines: Sequence[Line],
    chairs: Sequence[Chair],
) -> list[Seated]:
    """Every chair that plays, with its music."""
    found: dict[int, Seated] = {}
    for (number, bar), given in sorted(cast.given.items(), key=lambda item: item[0]):
        seat = found.setdefault(number, Seated(chairs[number]))
        shift = octaves.get((number, bar), 0)
        seat.given[bar], seat.shifts[bar] = given, shift
        cell = standing_for(lines[given.line].cells[bar], given, bar, lines)
        moved = tuple(octave_moved(e, shift) for e in cell) if shift else cell
        seat.cells[bar] = _in_range(moved, seat, bar)
    for player in dict.fromkeys(seat.chair.player for seat in found.values()):
        _gather([seat for seat in found.values() if seat.chair.player == player])
    for seat in found.values():
        _mend_starts(seat)
    return [found[number] for number in sorted(found)]


def _gather(seats: Sequence[Seated]) -> None:
    """Lines of one rhythm under the hands of one player become chords."""
    if len(seats) < 2 or seats[0].chair.instrument.family not in _HANDS:
        return
    for bar in sorted({bar for seat in seats for bar in seat.cells}):
        cells = [(seat.cells[bar], (i,)) for i, seat in enumerate(seats) if bar in seat.cells]
        for cell, desks in as_chords(cells):
            seats[desks[0]].cells[bar] = cell
            for desk in desks[1:]:
                del seats[desk].cells[bar]


_HANDS = ("keyboard", "plucked")


def standing_for(cell: Events, given: Given, bar: int, lines: Sequence[Line]) -> Events:
    """A cell whose heads also have the numbers of the notes that double them."""
    others = [n for n in given.voice.group.everybody if n != given.line]
    if not others:
        return cell
    doubled = _by_tick(lines[n].cells[bar] for n in others)
    return tuple(_with_more(event, doubled) for event in cell)


def _by_tick(cells: Iterable[Events]) -> dict[tuple[int, bool], list[Note[Sounding]]]:
    found: dict[tuple[int, bool], list[Note[Sounding]]] = {}
    for cell in cells:
        for event in cell:
            found.setdefault((event.at, event.grace is None), []).extend(event.notes)
    return found


def _with_more(
    event: Event[Sounding], doubled: Mapping[tuple[int, bool], Sequence[Note[Sounding]]]
) -> Event[Sounding]:
    """The event with each doubling note at the head of its pitch class, else at the first."""
    more = doubled.get((event.at, event.grace is None), ())
    if not more or not event.notes:
        return event
    heads = list(event.notes)
    for note in more:
        wanted = height(note.pitch) % 12
        place = next((i for i, h in enumerate(heads) if height(h.pitch) % 12 == wanted), 0)
        heads[place] = heads[place].standing_for(note)
    return replace(event, notes=tuple(heads))


def _in_range(cell: Events, seat: Seated, bar: int) -> Events:
    """Single notes beyond the range put into the octave that can be played."""
    chair = seat.chair
    moved = tuple(_folded_event(e, chair) for e in cell)
    if any(a is not b for a, b in zip(moved, cell, strict=True)):
        seat.folded.append(bar)
        return moved
    return cell


def _folded_event(event: Event[Sounding], chair: Chair) -> Event[Sounding]:
    shifts = [folded(height(n.pitch), chair.low, chair.high) for n in event.notes]
    if not any(shifts) or any(isinstance(n.pitch, Drum) for n in event.notes):
        return event
    notes = tuple(_moved(n, s) for n, s in zip(event.notes, shifts, strict=True))
    return replace(event, notes=notes)


def _moved(note: Note[Sounding], octaves: int) -> Note[Sounding]:
    if not octaves or isinstance(note.pitch, Drum):
        return note
    return replace(note, pitch=note.pitch.octave_moved(octaves))


def _mend_starts(seat: Seated) -> None:
    """A note held over from a bar that somebody else played is a rest here."""
    for bar in sorted(seat.cells):
        held = _held_at_end(seat.cells.get(bar - 1, ()))
        seat.cells[bar] = tuple(_begun(event, held) for event in seat.cells[bar])
    for bar in [b for b, cell in seat.cells.items() if not any(e.notes for e in cell)]:
        del seat.cells[bar]
    seat.cells = mended(seat.cells, {bar: given.line for bar, given in seat.given.items()})


def _held_at_end(cell: Events) -> frozenset[int]:
    """Heights of the notes tied out of a bar."""
    return frozenset(height(n.pitch) for e in cell for n in e.notes if n.tie_start)


def _begun(event: Event[Sounding], held: frozenset[int]) -> Event[Sounding]:
    if event.at or not event.duration or not any(n.tie_stop for n in event.notes):
        return event
    if all(height(n.pitch) in held for n in event.notes):
        return event
    return replace(event, notes=(), lyrics=(), marks=(), beams=())
