"""Which notes need an accidental, walking through a part as its reader does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.checks.music import Chord, Hand, Head, Music, Stand
from expander.model.pitch import Alter

_SHARPS = (3, 0, 4, 1, 5, 2, 6)
"""Letters in the order of sharps: F C G D A E B; flats come the other way round."""


class Seen(Struct, frozen=True):
    """A struck head: whether it needs an accidental, and whether one could remind the reader.

    `reminder` is True where the letter was altered before in this bar or the one before.
    """

    chord: Chord
    head: Head
    needed: bool
    reminder: bool

    @property
    def shown(self) -> bool:
        """True where an accidental is printed."""
        return self.head.note.accidental is not None

    @property
    def courtesy(self) -> bool:
        """True where the printed accidental says itself that it is one of courtesy."""
        mark = self.head.note.accidental
        return mark is not None and any(
            mark.get(name) == "yes"
            for name in ("cautionary", "parentheses", "editorial", "bracket")
        )


def signature(fifths: int) -> dict[int, int]:
    """The letters that a key signature alters."""
    if fifths >= 0:
        return dict.fromkeys(_SHARPS[:fifths], 1)
    return dict.fromkeys(_SHARPS[::-1][:-fifths], -1)


def amiss(music: Music, stand: Stand) -> tuple[Seen, ...]:
    """The struck heads whose accidental is needed and not printed, or the reverse.

    They are told in reading order, stave by stave. Only parts that print accidentals have any.
    """
    if not stand.contents.accidentals:
        return ()
    found: tuple[Seen, ...] = music.kept.get((stand,), "accidentals", lambda: tuple(_walk(stand)))
    return found


def _walk(stand: Stand) -> Iterator[Seen]:
    if stand.part.staves == 1:
        yield from _Reader().read(stand.chords)
        return
    for staff in range(1, stand.part.staves + 1):
        yield from _Reader().read([found for c in stand.chords for found in _on(c, staff)])


def _on(chord: Chord, staff: int) -> tuple[Chord, ...]:
    """A chord with those of its heads that stand on a staff, its own or another."""
    heads = tuple([h for h in chord.heads if (h.note.voice_staff or chord.staff) == staff])
    if len(heads) == len(chord.heads):
        return (chord,)
    return (replace(chord, heads=heads),) if heads else ()


class _Reader:
    """What the reader of one stave keeps in mind."""

    def __init__(self) -> None:
        self.bar = -1
        self.hand: Hand | None = None
        self.fifths: int | None = None
        self.key: dict[int, int] = {}
        self.state: dict[int, dict[int, Alter]] = {}
        """What holds in this bar by letter and octave, where it was set."""
        self.altered: set[int] = set()
        self.before: set[int] = set()

    def read(self, chords: Sequence[Chord]) -> Iterator[Seen]:
        """The heads whose accidental is not as they need it."""
        for chord in chords:
            if chord.bar != self.bar or chord.hand is not self.hand:
                self._turn(chord)
            if self.fifths is None:
                continue
            key = self.key
            for head in chord.heads:
                note, pitch = head.note, head.written
                if note.tie_stop:
                    continue
                plain = note.accidental is None and pitch.alter == key.get(pitch.step, 0)
                if not plain or pitch.step in self.state:
                    yield from self._odd(chord, head)

    def _turn(self, chord: Chord) -> None:
        self.hand = chord.hand
        if chord.hand.fifths != self.fifths:
            self.fifths = chord.hand.fifths
            self.key = signature(self.fifths or 0)
            self.state = {}
        if chord.bar != self.bar:
            self.before = self.altered if chord.bar == self.bar + 1 else set()
            self.bar, self.state, self.altered = chord.bar, {}, set()

    def _odd(self, chord: Chord, head: Head) -> tuple[Seen, ...]:
        """A head whose accidental is not as it needs it."""
        pitch = head.written
        step, alter = pitch.step, pitch.alter
        usual = self.key.get(step, 0)
        needed = alter != self.state.get(step, {}).get(pitch.octave, usual)
        found: tuple[Seen, ...] = ()
        if needed != (head.note.accidental is not None):
            reminder = step in self.altered or step in self.before
            found = (Seen(chord, head, needed, reminder),)
        if needed or alter != usual:
            self.state.setdefault(step, {})[pitch.octave] = alter
        if alter != usual:
            self.altered.add(step)
        return found
