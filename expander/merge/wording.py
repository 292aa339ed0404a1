"""Things of a score in an arranger's words, for telling what was merged and what was not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from expander.merge.facts import (
    ATTRIBUTE,
    BARLINE,
    DIRECTION,
    LYRIC,
    MARKS,
    NOTES,
    SYMBOL,
    FactKey,
)
from expander.merge.grid import Layer
from expander.merge.same import Sign
from expander.model.metre import beat_ticks
from expander.model.pitch import LETTERS, Drum, Written
from expander.model.score import Bar, Event, Note

_TAGS = re.compile(r"<[^>]*>")
_MOST_NOTES = 12
NOTHING = "nothing"


def beat_of(at: int, bar: Bar, grid: int) -> float:
    """The beat at a tick of a bar, counted from 1."""
    shift = bar.nominal - bar.length if bar.implicit and bar.length < bar.nominal else 0
    return round((at + shift) / beat_ticks(bar.time, grid) + 1, 3)


def notes_in_words(events: Layer, bar: Bar, grid: int) -> str:
    """Notes with their beats: "beat 1 C5, beat 2 E5 G5"."""
    heard = [e for e in events if e.notes]
    if not heard:
        return "rests"
    told = [f"beat {beat_of(e.at, bar, grid):g} {_chord(e)}" for e in heard[:_MOST_NOTES]]
    more = len(heard) - len(told)
    return ", ".join([*told, f"and {more} more"] if more else told)


def _chord(event: Event[Written]) -> str:
    kind = event.value.type if event.value else ""
    dots = " dotted" * (event.value is not None and event.value.dots > 0)
    grace = " grace note" if event.grace is not None else ""
    tied = " tied on" if any(n.tie_start for n in event.notes) else ""
    length = f" ({dots.strip() + ' ' if dots else ''}{kind}{grace}{tied})" if kind else ""
    return " ".join(_head(n) for n in sorted(event.notes, key=_height)) + length


def _height(note: Note[Written]) -> float:
    pitch = note.pitch
    return 7 * pitch.octave + pitch.step if isinstance(pitch, Drum) else float(pitch.semitone)


def _head(note: Note[Written]) -> str:
    shape = note.head.text if note.head is not None else "normal"
    shown = f" {shape} head" if shape != "normal" else ""
    if isinstance(note.pitch, Drum):
        return f"a stroke on {LETTERS[note.pitch.step]}{note.pitch.octave}{shown}"
    return f"{note.pitch}{shown}"


_WHAT = {
    NOTES: "notes",
    MARKS: "marks on a note",
    LYRIC: "words sung",
    SYMBOL: "chord symbol",
    BARLINE: "barline",
}


def thing(key: FactKey) -> str:
    """What a fact is about."""
    if key[0] == DIRECTION:
        return _DIRECTIONS.get(str(key[3]), str(key[3]))
    if key[0] == ATTRIBUTE:
        return _DIRECTIONS.get(str(key[3]), str(key[3]))
    return _WHAT.get(str(key[0]), str(key[-1]))


_DIRECTIONS = {
    "dynamics": "dynamic",
    "metronome": "tempo",
    "rehearsal": "rehearsal mark",
    "transpose": "transposition",
    "wedge": "hairpin",
    "octave-shift": "octave line",
    "wavy-line": "trill line",
    "dashes": "dashed line",
    "time": "time signature",
    "key": "key signature",
}


def called(name: str) -> str:
    """A mark's MusicXML name as a musician calls it."""
    return _DIRECTIONS.get(name, name.replace("-", " "))


def place_of(key: FactKey) -> int | None:
    """The tick of a fact; None where it has none of its own."""
    at = {DIRECTION: 1, SYMBOL: 1, ATTRIBUTE: 1, MARKS: 2, LYRIC: 2}.get(str(key[0]))
    value = None if at is None else key[at]
    return value if isinstance(value, int) else None


def in_words(key: FactKey, value: object) -> str:
    """A fact's value; "nothing" where it has none."""
    if value is None or value == frozenset():
        return NOTHING
    signs = sorted(value, key=repr) if isinstance(value, frozenset) else [value]
    return ", ".join(_sign_in_words(key, sign) for sign in signs)


def _sign_in_words(key: FactKey, sign: object) -> str:
    if not isinstance(sign, tuple):
        return str(sign)
    kind = key[0]
    if kind == SYMBOL:
        return _symbol(sign)
    if kind == LYRIC:
        return f"“{sign[0]}”"
    if kind == DIRECTION:
        return direction_in_words(str(key[3]), sign)
    if kind == MARKS:
        return mark_in_words(sign)
    if kind == ATTRIBUTE:
        return value_in_words(sign)
    return " ".join(str(part) for part in sign if part not in (None, "", ()))


def direction_in_words(name: str, sign: Sign) -> str:
    """A direction's sign (its place taken off)."""
    text = " ".join(str(part) for part in sign if isinstance(part, str) and part != name)
    shown = " ".join(_TAGS.sub(" ", text).split())
    if name == "words":
        return f"“{shown}”"
    if name == "metronome":
        return shown.replace(" ", " = ", 1)
    return shown or called(name)


def mark_in_words(sign: Sign) -> str:
    """A mark on a note: its name, and its text where it has one."""
    text = f" “{sign[1]}”" if len(sign) > 2 and sign[1] else ""
    return f"{called(str(sign[0]))}{text}"


def value_in_words(sign: Sign) -> str:
    """What a clef's, key's, time's or transposition's sign says."""
    kind, *rest = sign
    if kind == "clef":
        return f"{rest[0]} clef on line {rest[1]}" + (f" ({rest[2]:+d} octave)" if rest[2] else "")
    if kind == "key":
        count = rest[0]
        assert isinstance(count, int)
        word = "sharp" if count > 0 else "flat"
        return f"key of {abs(count)} {word}{'s' * (abs(count) != 1)}" if count else "open key"
    if kind == "time":
        beats = rest[0]
        assert isinstance(beats, tuple)
        return " + ".join("/".join(pair) for pair in beats) or "no metre"
    return " ".join(str(part) for part in sign)


def _symbol(sign: Sign) -> str:
    root, kind, bass, degrees = sign
    assert isinstance(degrees, tuple)
    name = _pitch_name(root) if isinstance(root, tuple) else str(root)
    more = "".join(f" {how} {_ALTERS.get(alter, '')}{value}" for value, alter, how in degrees)
    below = f" over {_pitch_name(bass)}" if isinstance(bass, tuple) else ""
    return f"{name} {str(kind).replace('-', ' ')}{more}{below}"


_ALTERS = {-2: "double flat ", -1: "flat ", 1: "sharp ", 2: "double sharp "}
_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}


def _pitch_name(name: Sequence[int]) -> str:
    return LETTERS[name[0]] + _SIGNS.get(name[1], "")


def listed(names: Iterable[str]) -> str:
    """Names with commas and an "and"."""
    every = list(names)
    return " and ".join([*([", ".join(every[:-1])] if every[:-1] else []), *every[-1:]])


def lost_in_words(kind: tuple[str, str]) -> str:
    """A kind of thing that a program lost, in the plural."""
    plural = {SYMBOL: "chord symbols", LYRIC: "words sung", BARLINE: f"barlines with {kind[1]}"}
    name = called(kind[1]).removesuffix(" mark")
    return plural.get(kind[0]) or (name if name == "words" else f"{name} marks")
