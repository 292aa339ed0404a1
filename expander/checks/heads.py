"""The heads of events at a transposition, each note's once: players who double share them."""

from __future__ import annotations

from expander.checks.music import Head
from expander.model.pitch import Drum, Written
from expander.model.score import Event, Mark, Note

Heads = tuple[Head, ...]
"""The pitched heads of one event."""

_HARMONIC = {
    "base-pitch": "base",
    "touching-pitch": "touch",
    "sounding-pitch": "sound",
    "natural": "natural",
    "artificial": "artificial",
}


class AtMove:
    """Heads of notes that sound so many semitones from where they are written."""

    def __init__(self, move: int) -> None:
        self.move = move
        self._heights: dict[int, int] = {}

    def of(self, event: Event[Written]) -> Heads:
        """The heads of an event. Pitches are told apart by identity: a score holds them."""
        whole = harmonic(event.marks) if event.marks else ""
        return tuple(
            [
                Head(
                    note.pitch,
                    self._heights.get(id(note.pitch)) or self._height(note.pitch),
                    note,
                    _kind(note, whole) if note.marks or note.head is not None else whole,
                )
                for note in event.notes
                if type(note.pitch) is Written
            ]
        )

    def _height(self, pitch: Written) -> int:
        height = self._heights[id(pitch)] = int(pitch.semitone + self.move)
        return height


def _kind(note: Note[Written], whole: str) -> str:
    """The kind of harmonic of a head, where `whole` is that of its chord."""
    kind = (harmonic(note.marks) if note.marks else "") or whole
    diamond = note.head is not None and note.head.text == "diamond"
    return kind or ("touch" if diamond else "")


def drums_of(notes: tuple[Note[Written], ...]) -> tuple[Drum, ...]:
    """The unpitched ones among notes."""
    return tuple([note.pitch for note in notes if isinstance(note.pitch, Drum)])


class AtMoves(dict[int, AtMove]):
    """Heads at every transposition of a score, by semitones from written to sounding."""

    def __missing__(self, move: int) -> AtMove:
        """Those of a transposition that is met for the first time."""
        found = self[move] = AtMove(move)
        return found


def harmonic(marks: tuple[Mark, ...]) -> str:
    """The kind of harmonic that marks ask for, "" for none: see `music.Head`."""
    for mark in marks:
        if mark.name == "harmonic":
            kinds = (kind for name, kind in _HARMONIC.items() if f"<{name}" in mark.inner)
            return next(kinds, "natural")
    return ""
