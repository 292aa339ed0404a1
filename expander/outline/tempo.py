"""Keys, metres and tempi in words, with the bars at which they begin."""

from __future__ import annotations

import re

from expander.checks.tempo import metronome
from expander.model.score import Direction, Document, Key, P, Score, Sketch, Time
from expander.model.words import is_system_mark
from expander.outline.values import Happening

_MAJOR = ("C♭", "G♭", "D♭", "A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯")
_MINOR = ("A♭", "E♭", "B♭", "F", "C", "G", "D", "A", "E", "B", "F♯", "C♯", "G♯", "D♯", "A♯")
_UNIT = re.compile(r"<beat-unit>\s*([\w-]+)\s*</beat-unit>((?:\s*<beat-unit-dot\s*/>)*)")
_MINUTE = re.compile(r"<per-minute[^>]*>([^<]*)")


def keys_of(heard: Sketch) -> list[Happening]:
    """Each sounding key with its bar, from the first part that says any; repeats left out."""
    for part in heard.parts:
        keys = [
            Happening(index, key_name(change.what))
            for index, bar in enumerate(part.bars)
            for change in bar.changes
            if isinstance(change.what, Key)
        ]
        if keys:
            return _fresh(keys)
    return []


def key_name(key: Key) -> str:
    """The key as "F major"; both keys of a signature where the file does not say which."""
    if key.own or not -7 <= key.fifths <= 7:
        return "a signature of its own"
    major, minor = f"{_MAJOR[key.fifths + 7]} major", f"{_MINOR[key.fifths + 7]} minor"
    chosen = {"major": major, "minor": minor}
    return chosen.get(key.mode, f"{major} or {minor}")


def metres_of(score: Score[P]) -> list[Happening]:
    """Each time signature with its bar."""
    return _fresh([Happening(i, metre_name(bar.time)) for i, bar in enumerate(score.bars)])


def metre_name(time: Time) -> str:
    """The metre as "4/4" or "2+3/8"; "free" where there is none."""
    return " + ".join(f"{beats}/{kind}" for beats, kind in time.beats) or "free"


def tempi_of(score: Document) -> list[Happening]:
    """Each tempo mark with its bar: its words, and its number where it has one."""
    marks = [
        (index, _tempo_text(one))
        for part in score.parts
        for index, bar in enumerate(part.bars)
        for one in bar.directions
    ]
    found: dict[int, dict[str, None]] = {}
    for bar, text in sorted((m for m in marks if m[1]), key=lambda m: m[0]):
        found.setdefault(bar, {})[text] = None
    return [Happening(bar, ", ".join(texts)) for bar, texts in found.items()]


def _tempo_text(one: Direction) -> str:
    """The tempo a direction says, "" for none (rehearsal marks and jumps say none)."""
    if not is_system_mark(one):
        return ""
    words = [m.text.strip() for m in one.marks if m.name == "words"]
    numbers = [_number(m.inner) for m in one.marks if m.name == "metronome" and metronome(m)]
    jump = one.sound and not one.sound.get("tempo") and one.sound.attributes
    if jump and not numbers:
        return ""
    said, number = " ".join(words), ", ".join(numbers)
    return f"{said} ({number})" if said and number else said or number


def _number(inner: str) -> str:
    unit, minute = _UNIT.search(inner), _MINUTE.search(inner)
    assert unit and minute, "metronome() found both"
    dotted = "dotted " * unit[2].count("<")
    return f"{dotted}{unit[1]} = {minute[1].strip()}"


def _fresh(found: list[Happening]) -> list[Happening]:
    """Only those that differ from the one before."""
    kept: list[Happening] = []
    for one in found:
        if not kept or kept[-1].text != one.text:
            kept.append(one)
    return kept
