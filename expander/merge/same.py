"""What counts as the same music, and what programs may change without changing it.

The same are two bars of a part with
- the same notes: staff, onset, length, spelled pitch (drums: place and sound), tie, notehead,
  grace or cue, whichever layer they stand in;
- the same on each note: articulations, ornaments, technique, fermatas and the like by name, text
  and what they hold; syllables by verse;
- the same directions: dynamics, words, tempo, rehearsal marks, pedals and others by kind, text,
  staff and onset, however they are grouped;
- the same chord symbols, clefs, keys, times, transpositions, barlines, repeats and endings;
- the same slurs, hairpins and other marks with two ends, from the same place to the same place.

Programs change in saving, and we look past: how a quarter is divided, ids, voice numbers, the
order of elements, beams, stems, tuplet brackets, note types where the length is the same,
positions, sides, fonts, colours, measure widths, page breaks, accidental signs (the pitch is
what counts), rests and how silence is split, white space, playback, page set-up and encoding.
A note split into tied notes is an edit.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import lru_cache

from expander.model.dynamics import dynamic_names
from expander.model.pitch import Drum, Transposition, Written
from expander.model.score import (
    Barline,
    Change,
    Clef,
    Direction,
    Event,
    Harmony,
    Key,
    Lyric,
    Mark,
    Note,
    Time,
)

Sign = tuple[object, ...]
"""A value that is equal for what counts as the same."""

_TELLING = frozenset({"type", "direction"})
_SHAPE_ONLY = frozenset({"fermata", "strong-accent", "arpeggiate", "tuplet"})
"""Marks whose `type` is only which way up they stand."""

_NOT_MUSIC = frozenset({"tuplet", "tied", "footnote", "level", "play", "listen", "instrument"})
_LOOKS = frozenset({"print", "sound", "listening", "link", "bookmark", "staff-details"})
_TAG = re.compile(r"<(/?[\w-]+)[^>]*?(/?)>")
_SPACE = re.compile(r"\s+")
_HIDDEN = ("print-object", "no")


def plain(text: str) -> str:
    """Text with its white space evened out."""
    return " ".join(text.split())


@lru_cache(maxsize=65536)
def mark_sign(mark: Mark) -> Sign:
    """What a mark says: its name, text and contents, without its looks."""
    told = tuple(a for a in mark.attributes if a[0] in _TELLING)
    if mark.name in _SHAPE_ONLY:
        told = tuple(a for a in told if a[0] != "type")
    if mark.name == "dynamics":
        return (mark.name, " ".join(dynamic_names(mark)) or plain(mark.text))
    if mark.name == "breath-mark" and plain(mark.text) == "comma":
        return mark_sign(Mark(mark.group, mark.name))  # the usual sign, which may go without saying
    if mark.name == "harmonic":
        return (mark.name, "artificial" if "<artificial" in mark.inner else "natural")
    inner = _SPACE.sub("", _TAG.sub(r"<\1\2>", mark.inner))
    return (mark.name, plain(mark.text), inner, told)


def is_music(mark: Mark) -> bool:
    """False for marks that are only looks, and for ties, which are told by their notes."""
    return mark.name not in _NOT_MUSIC


def is_look(mark: Mark) -> bool:
    """True for what stands in a bar and is no music: page breaks, playback."""
    return mark.name in _LOOKS


def lyric_sign(lyric: Lyric) -> Sign:
    """A syllable as sung."""
    return (plain(lyric.text), lyric.syllabic or "single")


def pitch_sign(pitch: Written | Drum, sounds: Mapping[str, str]) -> Sign:
    """A pitch as spelled; a drum's sound by its name."""
    if isinstance(pitch, Drum):
        return (pitch.step, pitch.octave, sounds.get(pitch.instrument, pitch.instrument))
    return (pitch.diatonic, pitch.alter)


def note_sign(note: Note[Written], home: int, sounds: Mapping[str, str]) -> Sign:
    """One head: its pitch, ties, look of the head and staff."""
    head = note.head.text if note.head is not None and note.head.text != "normal" else ""
    return (
        *pitch_sign(note.pitch, sounds),
        note.tie_start,
        note.tie_stop,
        head,
        note.voice_staff or home,
        _HIDDEN in note.attributes,
    )


def event_sign(event: Event[Written], home: int, sounds: Mapping[str, str]) -> Sign:
    """A chord with all its heads, whatever their order."""
    grace = "" if event.grace is None else (event.value.type if event.value else "grace")
    heads = tuple(sorted((note_sign(n, home, sounds) for n in event.notes), key=repr))
    return (event.at, event.duration, grace, event.cue, heads)


def direction_signs(direction: Direction) -> Iterator[tuple[Sign, Mark]]:
    """What a direction says, mark by mark, with its place."""
    for mark in direction.marks:
        yield (direction.at, max(direction.staff, 1), *mark_sign(mark)), mark


def harmony_sign(harmony: Harmony[Written]) -> Sign:
    """A chord symbol by its content."""
    degrees = tuple((d.value, d.alter, d.kind) for d in harmony.degrees)
    root = harmony.root if harmony.root is not None else plain(_TAG.sub(" ", harmony.mark.inner))
    return (root, harmony.kind, harmony.bass, degrees)


def change_sign(change: Change) -> Sign:
    """A clef, key, time, transposition or other attribute, without its place."""
    return value_sign(change.what)


def value_sign(what: Clef | Key | Time | Transposition | Mark) -> Sign:
    """The sign of an attribute's value."""
    if isinstance(what, Key):
        return ("key", what.fifths, what.own)
    if isinstance(what, Time):
        return ("time", what.beats)
    if isinstance(what, Clef):
        return ("clef", what.sign, what.line or _LINES.get(what.sign, 0), what.octave)
    if isinstance(what, Transposition):
        return ("transpose", what.interval.diatonic, what.interval.chromatic, what.double)
    return mark_sign(what)


_LINES = {"G": 2, "F": 4, "C": 3}
"""The line of a clef where a file leaves it out, as MusicXML's documentation has it."""


def barline_signs(barline: Barline) -> Iterator[tuple[str, Sign]]:
    """What a barline says, by aspect."""
    style = "" if barline.style in _PLAIN or barline.repeat is not None else barline.style
    if style:
        yield "style", (style,)
    if barline.repeat is not None:
        times = barline.repeat.get("times", "2")
        yield "repeat", (barline.repeat.get("direction"), times)
    if barline.ending is not None:
        kind = barline.ending.get("type")
        kind = "stop" if kind == "discontinue" else kind
        yield "ending", (barline.ending.get("number"), kind)
    for mark in barline.marks:
        if mark.name not in ("bar-style", "barline", *_NOT_MUSIC):
            yield mark.name, mark_sign(mark)


_PLAIN = frozenset({"", "regular"})
