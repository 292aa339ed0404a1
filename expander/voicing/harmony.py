"""Chord symbols as tones: what a MusicXML `kind` with its degrees and bass stands for.

The facts are in `kinds.toml`. A chord is read from its content, never from the text shown.

Conventions
    A degree is counted in the major scale on the root: (9, -1) is "b9". Every tone fills one of
    four *slots* - root, third, fifth, seventh - or stands in for it: the ninth for the root, the
    eleventh and thirteenth for the fifth, the sixth for the seventh. Tones are spelled from the
    root; a tension that would need a double accidental is respelled.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from expander.model.pitch import SEMITONES, Sounding
from expander.model.score import Degree, Harmony
from expander.model.tables import table

SLOTS = ("root", "third", "fifth", "seventh")

_SLOT_OF_NUMBER = {
    1: "root",
    2: "root",
    3: "third",
    4: "third",
    5: "fifth",
    6: "seventh",
    7: "seventh",
    9: "root",
    11: "fifth",
    13: "fifth",
}
_SLOT_OF_SEMITONE = tuple(
    SLOTS[place] for place, count in ((0, 3), (1, 3), (2, 4), (3, 2)) for _ in range(count)
)
_DEGREE = re.compile(r"^(b*|#*)(\d+)$")
_FIFTHS = "FCGDAEB"


class Tone(Struct, frozen=True):
    """A tone of a chord, without octave.

    `step` and `alter` spell it (step 0 = C). `number` and `shift` are its degree: 9 and -1 for
    the flat ninth. `slot` is the place it fills; `named` is true where the symbol asks for it.
    """

    step: int
    alter: int
    number: int
    shift: int
    slot: str
    named: bool = True

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0 to 11."""
        return (SEMITONES[self.step] + self.alter) % 12

    @property
    def degree(self) -> str:
        """Its degree as players say it: "3", "b7", "#11"."""
        mark = "#" * self.shift if self.shift > 0 else "b" * -self.shift
        return f"{mark}{self.number}"

    @property
    def is_tension(self) -> bool:
        """True for ninths, elevenths and thirteenths."""
        return self.number > 7

    def at(self, key: int) -> Sounding:
        """The tone at a MIDI key number, which must be of its pitch class."""
        octave = (key - SEMITONES[self.step] - self.alter) // 12 - 1
        return Sounding(self.step, self.alter, octave)


class ChordTones(Struct, frozen=True):
    """What a chord symbol stands for.

    `tones` are the tones it names, in order of degree; `sounding` those that players play, and
    `omitted` the ones they leave out. `available` are tensions that its quality allows besides,
    `usual` the degrees of those that are often added; `instead` maps a degree to a stand-in
    under a lead that rubs against it; `avoid` tones are kept out of harmony. `bass` sounds
    lowest where the symbol asks for a bass other than the root.
    """

    root: Tone
    tones: tuple[Tone, ...]
    sounding: tuple[Tone, ...]
    quality: str = ""
    bass: Tone | None = None
    omitted: tuple[Tone, ...] = ()
    available: tuple[Tone, ...] = ()
    usual: tuple[str, ...] = ()
    avoid: tuple[Tone, ...] = ()
    instead: tuple[tuple[str, Tone], ...] = ()

    @property
    def lowest(self) -> Tone:
        """The bass: the one asked for, else the root."""
        return self.bass or self.root

    def slot(self, name: str) -> tuple[Tone, ...]:
        """The tones that may fill a slot by the symbol alone: named tensions first."""
        mine = [t for t in self.sounding if t.slot == name]
        return tuple(sorted(mine, key=lambda t: not t.is_tension))

    def own(self, name: str) -> Tone | None:
        """The plain tone of a slot, or None (the seventh of a triad)."""
        for tone in self.sounding:
            if tone.slot == name and not tone.is_tension:
                return tone
        return None

    def find(self, pitch_class: int) -> Tone | None:
        """The tone of that pitch class: named first, then available ones."""
        for tone in (*self.sounding, *self.available):
            if tone.pitch_class == pitch_class:
                return tone
        return None

    def holds(self, pitch_class: int) -> bool:
        """True where the symbol itself names the pitch class."""
        return any(t.pitch_class == pitch_class for t in self.sounding)

    def slot_of(self, pitch_class: int) -> str:
        """The slot that a note over this chord takes, whether it belongs to it or not."""
        tone = self.find(pitch_class)
        if tone:
            return tone.slot
        return _SLOT_OF_SEMITONE[(pitch_class - self.root.pitch_class) % 12]


def _data() -> Mapping[str, Any]:
    return table(__file__, "kinds.toml")


def kinds() -> tuple[str, ...]:
    """Every kind value known, in the standard's order."""
    return tuple(_data()["kind"])


def parse_degree(name: str) -> tuple[int, int]:
    """A degree name as (number, semitones from the major scale): "b9" is (9, -1)."""
    found = _DEGREE.match(name)
    if not found:
        raise ValueError(f"{name!r} is not a degree such as 3, b7 or #11")
    marks, number = found.groups()
    return int(number), marks.count("#") - marks.count("b")


def chord_tones(harmony: Harmony[Any], key_fifths: int | None = None) -> ChordTones | None:
    """The tones of a chord symbol; None for "N.C." and symbols without a root.

    `key_fifths` is the key signature in force (sharps positive); with it, added tensions keep
    to the key where the chord's root does. None: tensions by the chord's quality alone. A kind
    that the standard does not know counts as `other`: root and added degrees.
    """
    if harmony.root is None:
        return None
    return _chord_tones(
        harmony.root, harmony.kind, harmony.degrees, harmony.inversion, harmony.bass, key_fifths
    )


@lru_cache(maxsize=4096)
def _chord_tones(
    root: tuple[int, int],
    kind: str,
    changes: tuple[Degree, ...],
    inversion: int,
    bass: tuple[int, int] | None,
    key_fifths: int | None,
) -> ChordTones | None:
    row = _data()["kind"].get(kind) or _data()["kind"]["other"]
    slots = {int(k): v for k, v in row.get("slots", {}).items()}
    degrees = _changed([parse_degree(d) for d in row["tones"].split()], changes)
    if not degrees:
        return None
    tones = tuple(_tone(root, degree, slots) for degree in degrees)
    omitted = _omitted(tones, row.get("omit", "").split())
    chord = ChordTones(
        root=next((t for t in tones if t.slot == "root" and not t.is_tension), tones[0]),
        tones=tones,
        sounding=tuple(t for t in tones if t not in omitted),
        quality=_quality(row.get("quality", ""), degrees),
        omitted=omitted,
    )
    chord = _with_quality(chord, root, key_fifths)
    return replace(chord, bass=_bass(chord, root, bass, inversion, row.get("bass", "")))


def _changed(degrees: list[tuple[int, int]], changes: Iterable[Degree]) -> list[tuple[int, int]]:
    """Degrees after the symbol's additions, alterations and subtractions.

    An addition is relative to a dominant chord, the others to the chord itself (MusicXML 4.0,
    degree-alter). Altering a degree that is not there adds it, as writers of files often do.
    """
    result, added = list(degrees), set[tuple[int, int]]()
    for change in changes:
        present = _present(result, change.value)
        if change.kind == "subtract":
            result = [d for d in result if d != present]
        elif change.kind == "alter" and present:
            result[result.index(present)] = (present[0], present[1] + change.alter)
        else:
            new = (_usual_number(change.value), change.alter - (change.value % 7 == 0))
            added.add(new)
            result.append(new)
    numbers = {number for number, _ in result}
    return _in_order([_as_tension(d, numbers) if d in added else d for d in result])


def _usual_number(number: int) -> int:
    """Degrees as chords are built: a tenth is a third, a fifteenth the root."""
    return number if number in _SLOT_OF_NUMBER else (number - 1) % 7 + 1


def _as_tension(degree: tuple[int, int], numbers: set[int]) -> tuple[int, int]:
    """A second or fourth beside a third, or a sixth beside a seventh, is the tension above."""
    number, shift = degree
    beside = {2: 3, 4: 3, 6: 7}
    return (number + 7 if beside.get(number) in numbers else number), shift


def _present(degrees: list[tuple[int, int]], number: int) -> tuple[int, int] | None:
    exact = [d for d in degrees if d[0] == number]
    same_letter = [d for d in degrees if (d[0] - number) % 7 == 0]
    return next(iter(exact or same_letter), None)


def _in_order(degrees: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Without repeats; functional sixths keep the order of their table row."""
    unique = list(dict.fromkeys(degrees))
    if unique and unique[0][0] != 1:
        return unique
    return sorted(unique)


def _tone(
    root: tuple[int, int], degree: tuple[int, int], slots: Mapping[int, str], named: bool = True
) -> Tone:
    number, shift = degree
    step = (root[0] + number - 1) % 7
    natural = SEMITONES[(number - 1) % 7] + 12 * ((number - 1) // 7)
    wanted = SEMITONES[root[0]] + root[1] + natural + shift
    alter = (wanted - SEMITONES[step] + 6) % 12 - 6
    step, alter = _readable(step, alter, limit=1 if number > 7 else 2)
    slot = slots.get(number) or _SLOT_OF_NUMBER.get(number, "root")
    return Tone(step, alter, number, shift, slot, named)


def _readable(step: int, alter: int, limit: int) -> tuple[int, int]:
    """The same sound on a neighbouring letter while it has more than `limit` accidentals."""
    while abs(alter) > limit:
        move = 1 if alter > 0 else -1
        near = (step + move) % 7
        distance = (SEMITONES[near] - SEMITONES[step]) * move % 12
        step, alter = near, alter - move * distance
    return step, alter


def _quality(name: str, degrees: list[tuple[int, int]]) -> str:
    """The quality after alterations: a dominant with a suspended fourth is suspended."""
    numbers = {number for number, _ in degrees}
    if 3 not in numbers and numbers & {2, 4, 11} and name in ("dominant", "major", "minor"):
        return "suspended"
    return name


def _omitted(tones: tuple[Tone, ...], names: list[str]) -> tuple[Tone, ...]:
    """Tones left out: by custom, and plain ones that an alteration has taken the place of."""
    altered = {t.number for t in tones if t.shift and t.number in (5, 9, 11, 13)}
    plain = [t for t in tones if t.number in altered and not t.shift]
    custom = [t for t in tones if t.degree in names]
    return tuple(dict.fromkeys([*custom, *plain]))


def _with_quality(chord: ChordTones, root: tuple[int, int], fifths: int | None) -> ChordTones:
    row = _data()["quality"].get(chord.quality)
    if not row:
        return chord
    slots = {int(k): v for k, v in row.get("slots", {}).items()}

    def make(name: str) -> Tone:
        return _tone(root, parse_degree(name), slots, named=False)

    classes = {t.pitch_class for t in chord.tones}
    numbers = {t.number for t in chord.sounding}
    offered = [make(n) for n in row["tensions"].split()]
    fresh = [t for t in offered if t.pitch_class not in classes and t.number not in numbers]
    swaps = [(k, make(v)) for k, v in row.get("instead", {}).items()]
    return replace(
        chord,
        available=_in_key(chord, fresh, fifths),
        usual=tuple(row["usual"].split()),
        avoid=tuple(t for t in map(make, row["avoid"].split()) if t.pitch_class not in classes),
        instead=tuple((k, t) for k, t in swaps if t.pitch_class not in classes),
    )


def _in_key(chord: ChordTones, tones: list[Tone], fifths: int | None) -> tuple[Tone, ...]:
    """Tensions of the key alone, for chords whose root is of the key; others take all."""
    if fifths is None:
        return tuple(tones)
    scale = {(step, alter) for step, alter in enumerate(key_alters(fifths))}
    if (chord.root.step, chord.root.alter) not in scale:
        return tuple(tones)
    classes = {(SEMITONES[s] + a) % 12 for s, a in scale}
    return tuple(t for t in tones if t.pitch_class in classes)


def _bass(
    chord: ChordTones,
    root: tuple[int, int],
    bass: tuple[int, int] | None,
    inversion: int,
    customary: str,
) -> Tone | None:
    if bass is not None:
        return _bass_tone(chord, bass)
    if inversion and inversion < len(chord.tones):
        return chord.tones[inversion]
    if customary and not inversion:
        return next((t for t in chord.tones if t.degree == customary), None)
    return None


def _bass_tone(chord: ChordTones, bass: tuple[int, int]) -> Tone | None:
    wanted = Tone(bass[0], bass[1], 1, 0, "root")
    if wanted.pitch_class == chord.root.pitch_class:
        return None
    return next((t for t in chord.tones if t.pitch_class == wanted.pitch_class), wanted)


@lru_cache(maxsize=64)
def key_alters(fifths: int) -> tuple[int, ...]:
    """The accidentals of a key signature, letters C to B: two sharps are (1, 0, 0, 1, 0, 0, 0)."""
    alters = [0] * 7
    for n in range(abs(fifths)):
        letter = _FIFTHS[n % 7] if fifths > 0 else _FIFTHS[6 - n % 7]
        alters["CDEFGAB".index(letter)] += 1 if fifths > 0 else -1
    return tuple(alters)
