"""Music as text, for tests: notes in, notes out.

Bars are divided by ``|``, events by spaces. ``C5`` is a quarter, ``C5/8`` a half, ``C4+E4`` a
chord, ``r`` a rest, ``C5~`` is tied on, ``r!`` has a fermata, ``(D5)`` is a grace note, ``*C5`` is
unpitched, ``C5:word`` has a syllable. Sketch numbers (`origin`) are given in order of layers, bars
and notes; a tied chain has one number. A quarter is 4 ticks, a bar 16 unless it is fuller.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import count

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Lyric, Mark, Note, Value

BAR = 16
FERMATA = Mark("notations", "fermata")
VALUES = {1: "16th", 2: "eighth", 4: "quarter", 8: "half", 16: "whole"}


def read(*layers: str) -> tuple[dict[int, tuple[Events, ...]], list[int]]:
    """Bars of a strand and the ticks at which they start."""
    numbers = count()
    columns = [_layer(text, numbers) for text in layers]
    bars = {b: tuple(c[b] for c in columns) for b in range(len(columns[0]))}
    return bars, [BAR * b for b in bars]


def _layer(text: str, numbers: Iterator[int]) -> list[Events]:
    tied: dict[str, int] = {}
    bars = []
    for bar in text.split("|"):
        at, events = 0, []
        for token in bar.split():
            events.append(_event(token, at, numbers, tied))
            at += events[-1].duration
        bars.append(tuple(events))
    return bars


def _event(token: str, at: int, numbers: Iterator[int], tied: dict[str, int]) -> Event[Sounding]:
    grace = Mark("note", "grace") if token.startswith("(") else None
    body, _, word = token.strip("()").partition(":")
    names, _, length = body.partition("/")
    duration = 0 if grace else int(length or 4)
    value = Value(VALUES[duration]) if duration in VALUES else None
    if names.startswith("r"):
        tied.clear()
        return Event(at, duration, value=value, marks=(FERMATA,) if names == "r!" else ())
    before = dict(tied)
    if not grace:
        tied.clear()
    notes = tuple(_note(name, numbers, before, tied) for name in names.split("+"))
    lyrics = (Lyric("1", "single", word, Mark("note", "lyric")),) if word else ()
    return Event(at, duration, notes, value, lyrics=lyrics, grace=grace)


def _note(
    name: str, numbers: Iterator[int], before: dict[str, int], tied: dict[str, int]
) -> Note[Sounding]:
    """`before` are the notes tied from the event before, `tied` those tied on from this one."""
    on = name.endswith("~")
    name = name.rstrip("~")
    stop = name in before
    number = before.pop(name) if stop else next(numbers)
    if on:
        tied[name] = number
    pitch = Sounding.named(name.lstrip("*"))
    if name.startswith("*"):
        return Note(Drum(pitch.step, pitch.octave), origin=number)
    return Note(pitch, tie_start=on, tie_stop=stop, origin=number)


def write(line: Mapping[int, Events], bars: int = 1) -> str:
    """A line in the same notation; silence before a note is shown as a rest."""
    return " | ".join(_bar(line.get(b, ())) for b in range(bars))


def _bar(events: Events) -> str:
    at, shown = 0, []
    for event in events:
        if event.at > at:
            shown.append(_with_length("r", event.at - at))
        shown.append(_shown(event))
        at = event.end
    return " ".join(shown)


def _shown(event: Event[Sounding]) -> str:
    if event.is_rest:
        return _with_length("r!" if FERMATA in event.marks else "r", event.duration)
    names = "+".join(_name(n) for n in event.notes)
    word = f":{event.lyrics[0].text}" if event.lyrics else ""
    return f"({names})" if event.grace else _with_length(names, event.duration) + word


def _with_length(text: str, length: int) -> str:
    return text if length == 4 else f"{text}/{length}"


def _name(note: Note[Sounding]) -> str:
    if isinstance(note.pitch, Drum):
        return f"*{Sounding(note.pitch.step, 0, note.pitch.octave)}"
    return f"{note.pitch}" + ("~" if note.tie_start else "")
