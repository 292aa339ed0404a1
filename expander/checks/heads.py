"""The heads of events at a transposition, each note's once: players who double share them."""

from __future__ import annotations

from expander.checks.music import Head
from expander.model.pitch import Drum, Written
from expander.model.score import Event, Mark, Note

Heads = tuple[tuple[Head, ...], tuple[Drum, ...]]
"""The pitched heads and the drums of one event."""

_HARMONIC = {
    "base-pitch": "base",
    "touching-pitch": "touch",
    "sounding-pitch": "sound",
    "natural": "natural",
    "artificial": "artificial",
}
_NO_HEADS: tuple[Head, ...] = ()
_NO_DRUMS: tuple[Drum, ...] = ()


class AtMove:
    """Heads of notes that sound so many semitones from where they are written."""

    def __init__(self, move: int) -> None:
        self.move = move
        self._heights: dict[int, int] = {}
        self._single: dict[int, Heads] = {}

    def of(self, event: Event[Written]) -> Heads:
        """What an event with notes holds. Notes are told apart by identity: a score holds them."""
        whole = harmonic(event.marks) if event.marks else ""
        notes = event.notes
        if len(notes) > 1 or whole:
            return self._several(notes, whole)
        note = notes[0]
        found = self._single.get(id(note))
        if found is None:
            pitch = note.pitch
            if isinstance(pitch, Drum):
                found = _NO_HEADS, (pitch,)
            else:
                found = (self._head(note, pitch, ""),), _NO_DRUMS
            self._single[id(note)] = found
        return found

    def _several(self, notes: tuple[Note[Written], ...], whole: str) -> Heads:
        heads: list[Head] = []
        drums: list[Drum] = []
        for note in notes:
            pitch = note.pitch
            if isinstance(pitch, Drum):
                drums.append(pitch)
            else:
                heads.append(self._head(note, pitch, whole))
        return tuple(heads), tuple(drums)

    def _head(self, note: Note[Written], pitch: Written, kind: str) -> Head:
        if note.marks:
            kind = harmonic(note.marks) or kind
        if not kind and note.head is not None and note.head.text == "diamond":
            kind = "touch"
        height = self._heights.get(id(pitch))
        if height is None:
            height = self._heights[id(pitch)] = int(pitch.semitone + self.move)
        return Head(pitch, height, note, kind)


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
