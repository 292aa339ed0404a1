"""What one part holds that a check may look for, so that it can leave early where there is none."""

from __future__ import annotations

from functools import cached_property

from msgspec import Struct

from expander.model.pitch import Written
from expander.model.score import Event, Note, Part


class Contents(Struct, frozen=True, dict=True):
    """The contents of a part, cues included; each is found when it is first asked for."""

    part: Part[Written]

    @cached_property
    def events(self) -> list[Event[Written]]:
        """Every event, rests among them, bar by bar."""
        return [event for bar in self.part.bars for layer in bar.layers for event in layer]

    @cached_property
    def chords(self) -> list[Event[Written]]:
        """Every event that has notes."""
        return [event for event in self.events if event.notes]

    @cached_property
    def notes(self) -> list[Note[Written]]:
        """Every note."""
        return [note for event in self.chords for note in event.notes]

    @cached_property
    def marks(self) -> frozenset[str]:
        """The names of the marks on events."""
        return frozenset([m.name for event in self.events if event.marks for m in event.marks])

    @cached_property
    def marks_of_notes(self) -> frozenset[str]:
        """The names of the marks on single notes."""
        return frozenset([m.name for note in self.notes if note.marks for m in note.marks])

    @cached_property
    def heads(self) -> bool:
        """True where a notehead of a kind of its own is asked for."""
        return any([note.head is not None for note in self.notes])

    @cached_property
    def tied(self) -> bool:
        """True where there is a tie."""
        return any([note.tie_start or note.tie_stop for note in self.notes])

    @cached_property
    def accidentals(self) -> bool:
        """True where an accidental is printed."""
        return any([note.accidental is not None for note in self.notes])

    @cached_property
    def cued(self) -> bool:
        """True where there are cue notes."""
        return any([event.cue for event in self.chords])

    @cached_property
    def most(self) -> int:
        """The most notes that one layer begins together."""
        if len(self.notes) == len(self.chords):
            return min(1, len(self.notes))
        return max([len(event.notes) for event in self.chords])

    @cached_property
    def worded(self) -> bool:
        """True for a part that is sung: real syllables stand under a good share of its notes.

        A few letters under an instrumental line are labels, not words.
        """
        lyrics = [event.lyrics for event in self.events if event.lyrics]
        letters = sum([any(len(lyric.text) > 1 for lyric in here) for here in lyrics])
        if letters <= 2:
            return False
        return len(lyrics) * 5 >= len(self.chords) and letters * 2 >= len(lyrics)
