"""Short scores of any length for measuring: plausible music, the same every time, no bar twice.

Five staves in turn: a tune with words, slurs and dynamics; a counter-line with articulations;
chords of three; two lines on one staff; a bass. Chord symbols over the top, a rehearsal mark
every sixteen bars, a change of key every sixty-four.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

from msgspec import Struct

DIVISIONS = 4
STEPS = "CDEFGAB"
SYLLABLES = ("sail", "or", "home", "ward", "light", "the", "long", "tide", "sleeps", "un")
LEVELS = ("p", "mp", "mf", "f")
KEYS = (0, 2, -3, 4, -1, 1, -4, 3)
KINDS = (("major", ""), ("minor", "m"), ("dominant", "7"), ("major-seventh", "maj7"))
RHYTHMS = (
    (4, 4, 4, 4), (8, 4, 4), (6, 2, 4, 4), (2, 2, 4, 2, 2, 4), (4, 2, 2, 8), (3, 1, 4, 6, 2),
    (2, 2, 2, 2, 4, 4), (12, 4), (2, 4, 2, 4, 4), (1, 1, 2, 4, 2, 2, 4),
)  # fmt: skip
SLOW = ((16,), (8, 8), (8, 4, 4), (12, 4))
TYPES = {1: "16th", 2: "eighth", 3: "eighth", 4: "quarter", 6: "quarter", 8: "half", 12: "half",
         16: "whole"}  # fmt: skip
DOTTED = frozenset({3, 6, 12})


class Line(Struct):
    """A line that wanders by step round a middle, as letter steps above C0."""

    rng: random.Random
    middle: int
    here: int = 0

    def next(self) -> int:
        self.here = self.here or self.middle
        pull = 1 if self.here < self.middle - 5 else -1 if self.here > self.middle + 5 else 0
        self.here += self.rng.choice((-2, -1, -1, 0, 1, 1, 2)) + pull
        return self.here


def pitch(place: int) -> str:
    octave, step = divmod(place, 7)
    return f"<pitch><step>{STEPS[step]}</step><octave>{octave}</octave></pitch>"


def note(places: list[int], length: int, voice: int, more: str = "") -> str:
    """A chord of a length; `more` (notations, lyric) goes with its first head."""
    tail = f"<duration>{length}</duration><voice>{voice}</voice><type>{TYPES[length]}</type>"
    tail += "<dot/>" if length in DOTTED else ""
    heads = [
        f"<note>{'<chord/>' if number else ''}{pitch(place)}{tail}{'' if number else more}</note>"
        for number, place in enumerate(sorted(places))
    ]
    return "".join(heads)


def tune(rng: random.Random, line: Line, bar: int) -> Iterator[str]:
    if bar % 4 == 0:
        yield (
            f'<direction placement="below"><direction-type><dynamics><{rng.choice(LEVELS)}/>'
            "</dynamics></direction-type></direction>"
        )
    rhythm = rng.choice(RHYTHMS)
    for number, length in enumerate(rhythm):
        kind = {0: "start", len(rhythm) - 1: "stop"}.get(number, "")
        slur = f'<notations><slur number="1" type="{kind}"/></notations>' if kind else ""
        word = f"<lyric><syllabic>single</syllabic><text>{rng.choice(SYLLABLES)}</text></lyric>"
        yield note([line.next()], length, 1, slur + word)


def counter(rng: random.Random, line: Line, bar: int) -> Iterator[str]:
    for length in rng.choice(RHYTHMS):
        short = "<notations><articulations><staccato/></articulations></notations>"
        yield note([line.next()], length, 1, short if length == 2 else "")


def chords(rng: random.Random, line: Line, bar: int) -> Iterator[str]:
    for length in rng.choice(SLOW):
        root = line.next()
        yield note([root, root + 2, root + 4], length, 1)


def pair(rng: random.Random, line: Line, bar: int) -> Iterator[str]:
    upper = rng.choice(SLOW)
    yield "".join(note([line.next() + 5], length, 1) for length in upper)
    yield "<backup><duration>16</duration></backup>"
    yield "".join(note([line.next() - 3], length, 2) for length in rng.choice(RHYTHMS))


def bass(rng: random.Random, line: Line, bar: int) -> Iterator[str]:
    for length in rng.choice(RHYTHMS[:5]):
        yield note([line.next()], length, 1)


STAVES: tuple[tuple[str, int, str, int, Callable[..., Iterator[str]]], ...] = (
    ("Tune", 37, "G", 2, tune),
    ("Counter", 33, "G", 2, counter),
    ("Chords", 29, "G", 2, chords),
    ("Inner", 26, "C", 3, pair),
    ("Bass", 18, "F", 4, bass),
)
"""Name, middle of the register, clef and music of each staff in turn."""


def symbol(rng: random.Random) -> str:
    kind, text = rng.choice(KINDS)
    return (
        f"<harmony><root><root-step>{rng.choice(STEPS)}</root-step></root>"
        f'<kind text="{text}">{kind}</kind></harmony>'
    )


def opening(bar: int, sign: str, line: int) -> str:
    key = f"<key><fifths>{KEYS[bar // 64 % len(KEYS)]}</fifths></key>"
    if bar == 0:
        return (
            f"<attributes><divisions>{DIVISIONS}</divisions>{key}"
            "<time><beats>4</beats><beat-type>4</beat-type></time>"
            f"<clef><sign>{sign}</sign><line>{line}</line></clef></attributes>"
        )
    return f"<attributes>{key}</attributes>" if bar % 64 == 0 else ""


def system_marks(rng: random.Random, bar: int) -> str:
    letter = f"{chr(65 + bar // 16 % 26)}{bar // 416 or ''}"
    kind = f"<direction-type><rehearsal>{letter}</rehearsal></direction-type>"
    mark = f"<direction>{kind}</direction>"
    return (mark if bar % 16 == 0 else "") + symbol(rng)


def part(number: int, bars: int) -> str:
    rng = random.Random(number * 7919 + bars)
    _, middle, sign, clef_line, music = STAVES[number % len(STAVES)]
    line = Line(rng, middle)
    rows = []
    for bar in range(bars):
        marks = system_marks(rng, bar) if number == 0 else ""
        inside = "".join(music(rng, line, bar))
        rows.append(
            f'<measure number="{bar + 1}">{opening(bar, sign, clef_line)}{marks}{inside}</measure>'
        )
    return f'<part id="P{number + 1}">' + "\n".join(rows) + "</part>"


def sketch(bars: int, staves: int = 5) -> bytes:
    """A short score of so many bars and staves."""
    listed = "".join(
        f'<score-part id="P{n + 1}"><part-name>{name}</part-name></score-part>'
        for n in range(staves)
        for name in (STAVES[n % len(STAVES)][0],)
    )
    parts = "\n".join(part(n, bars) for n in range(staves))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">'
        f"<movement-title>Measured mile</movement-title><part-list>{listed}</part-list>"
        f"{parts}</score-partwise>"
    ).encode()
