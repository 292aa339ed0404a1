"""Score to mini-notation, one line for each stave: see `tests/mini.py` for the notation."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from fractions import Fraction

from expander.model.pitch import CONCERT, Drum, Pitch, Transposition
from expander.model.score import (
    Bar,
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
    Part,
    PartBar,
    Score,
    Time,
    Value,
)
from tests import mini_words as mw
from tests.mini_reading import duration_of, usual_normal

Asides = list[tuple[int, str]]
"""Tokens that are not notes, each with its place in ticks of the bar."""


def written_out(score: Score, show: Collection[str]) -> list[str]:
    """Every stave of every part as one line."""
    return [
        _Stave(score, part, staff, show).line()
        for part in score.parts
        for staff in range(1, part.staves + 1)
    ]


class _Stave:
    """One stave of one part on its way to text."""

    def __init__(self, score: Score, part: Part, staff: int, show: Collection[str]) -> None:
        self.score = score
        self.part = part
        self.staff = staff
        self.show = show
        self.layers = [i for i, la in enumerate(part.layers) if la.staff == staff]
        self.answers = _tie_answers(part, self.layers)

    def line(self) -> str:
        """The whole stave."""
        text = self.head()
        for index, bar in enumerate(self.score.bars):
            text += self.bar(index, bar)
        return text.removesuffix(" |").rstrip()

    def head(self) -> str:
        if self.staff > 1:
            return "+:"
        by = _opening_transposition(self.part)
        move = "" if by == CONCERT else f" ({by.diatonic} {by.chromatic} {by.octave})"
        return f"{self.part.name}{move}:".lstrip()

    def bar(self, index: int, bar: Bar) -> str:
        """One bar with the barline after it, a blank before each token."""
        here = self.part.bars[index]
        texts = [self.layer(index, bar, number, layer) for number, layer in enumerate(self.layers)]
        while len(texts) > 1 and texts[-1] == "_":
            texts.pop()
        left, right = _barlines(here.barlines, first=index == 0)
        number = _number_token(self.score.bars, index) if self.top() else ""
        parts = [left, number, *_endings(here.barlines), " // ".join(texts), right]
        return "".join(f" {p}" for p in parts if p)

    def top(self) -> bool:
        return self.staff == 1 and self.part is self.score.parts[0]

    def layer(self, index: int, bar: Bar, number: int, layer: int) -> str:
        here = self.part.bars[index]
        events = here.layers[layer] if layer < len(here.layers) else ()
        asides = [*self.marks(here, number, index)]
        return " ".join(_Layer(self, bar, index, layer, asides).tokens(events))

    def marks(self, here: PartBar, number: int, index: int) -> Iterator[tuple[int, str]]:
        """What stands with this layer besides notes, in the order of printing."""
        if number == 0:
            for change in sorted(here.changes, key=lambda c: (c.at, _rank(c))):
                opening = index == 0 and change.at == 0 and isinstance(change.what, Transposition)
                if (change.staff or 1) == self.staff and not opening:
                    yield change.at, _change(change)
            for harmony in here.harmonies:
                if (harmony.staff or 1) == self.staff:
                    yield harmony.at, f"{{{mw.chord_text(harmony)}}}"
        for direction in here.directions:
            if (direction.staff or 1) == self.staff and self.home(direction) == number:
                yield from ((direction.at, m) for m in _direction(direction, self.show))

    def home(self, direction: Direction) -> int:
        """The layer of this stave that a mark stands with; the first if it names none."""
        for number, layer in enumerate(self.layers):
            if self.part.layers[layer].voice == direction.voice:
                return number
        return 0


class _Layer:
    """Prints the events of one layer in one bar, keeping the place reached."""

    def __init__(self, stave: _Stave, bar: Bar, index: int, layer: int, asides: Asides) -> None:
        self.stave = stave
        self.grid = stave.score.grid
        self.length = bar.length
        self.full = bar.length == bar.nominal
        self.key = (index, layer)
        self.asides = asides
        self.at = 0
        self.ratio = (1, 1)
        self.marked = False

    def tokens(self, events: tuple[Event, ...]) -> list[str]:
        found: list[str] = []
        for place, event in enumerate(events):
            found += self.gap(event.at)
            found += self.due(self.at)
            found += self.event(place, event)
        if self.ratio != (1, 1):
            found.append("?)")
        if not any(e.whole_bar for e in events):
            found += self.due(self.at)
        found += [f"{text}&{self.quarters(at)}" for at, text in self.asides]
        return found if events else [*found, "_"]

    def due(self, at: int) -> list[str]:
        """The asides of this place, which then are done with."""
        found = [text for place, text in self.asides if place == at]
        self.asides = [(place, text) for place, text in self.asides if place != at]
        return found

    def gap(self, at: int) -> list[str]:
        if at == self.at:
            return []
        text = f"_:{self.quarters(at - self.at)}"
        self.at = at
        return [text]

    def quarters(self, ticks: int) -> str:
        return str(Fraction(ticks, self.grid))

    def event(self, place: int, event: Event) -> list[str]:
        if event.whole_bar and not event.notes:
            self.at = event.at + event.duration
            length = "" if self.full else f":{self.quarters(event.duration)}"
            return [f"R{length}{''.join(_marks(event.marks))}"]
        before = self.tuplet_before(event)
        token = ("," if event.cue else "") + _grace(event)
        token += self.heads(place, event) + self.value(event)
        token += _slurs(event.marks) + "".join(_marks(event.marks))
        self.at = event.at + event.duration
        return [*before, token, *(_lyric(ly) for ly in event.lyrics), *self.tuplet_after(event)]

    def heads(self, place: int, event: Event) -> str:
        if not event.notes:
            return "r"
        answers = self.stave.answers.get((*self.key, place), {})
        return "+".join(_head(n, answers, self.stave.show) for n in event.notes)

    def value(self, event: Event) -> str:
        """The notated value; where it does not fit the duration, both."""
        value = event.value
        if value is None:
            return "" if event.grace else f":{self.quarters(event.duration)}"
        text = f":{mw.LETTERS.get(value.type, value.type)}{'.' * value.dots}"
        if event.grace or duration_of(value) * self.grid == event.duration:
            return text
        return f"{text}={self.quarters(event.duration)}"

    def tuplet_before(self, event: Event) -> list[str]:
        ratio = (event.value.actual, event.value.normal) if event.value else (1, 1)
        starts = _tuplet(event, "start")
        if event.grace or (ratio == self.ratio and not starts):
            return []
        found = ["?)"] if self.ratio != (1, 1) else []
        self.ratio = ratio
        if ratio == (1, 1):
            return found
        normal = "" if ratio[1] == usual_normal(ratio[0]) else f":{ratio[1]}"
        return [*found, f"{ratio[0]}{normal}{'' if starts else '?'}("]

    def tuplet_after(self, event: Event) -> list[str]:
        if self.ratio == (1, 1) or not _tuplet(event, "stop"):
            return []
        self.ratio = (1, 1)
        return [")"]


def _tie_answers(part: Part, layers: list[int]) -> dict[tuple[int, int, int], dict[object, str]]:
    """For each event, its pitches with an unanswered tie: `start`, `stop` or both.

    A tie is answered where the next event of the layer (grace notes aside) ends it.
    """
    found: dict[tuple[int, int, int], dict[object, str]] = {}
    for layer in layers:
        before: tuple[tuple[int, int, int], set[object]] | None = None
        for index, bar in enumerate(part.bars):
            for place, event in enumerate(bar.layers[layer] if layer < len(bar.layers) else ()):
                here = (index, layer, place)
                stops = {n.pitch for n in event.notes if n.tie_stop}
                pending = before[1] if before else set()
                found[here] = dict.fromkeys(stops - pending, "stop")
                if event.grace:
                    continue
                if before:
                    _note_open(found[before[0]], pending - stops)
                before = (here, {n.pitch for n in event.notes if n.tie_start})
        if before:
            _note_open(found[before[0]], before[1])
    return found


def _note_open(answers: dict[object, str], pitches: set[object]) -> None:
    for pitch in pitches:
        answers[pitch] = answers.get(pitch, "") + "start"


def _head(note: Note, answers: dict[object, str], show: Collection[str]) -> str:
    lone = answers.get(note.pitch, "")
    text = "?~" if "stop" in lone else ""
    text += _drum(note.pitch) if isinstance(note.pitch, Drum) else _pitch(note.pitch)
    if note.accidental and "accidentals" in show:
        text += _accidental(note.accidental, note.pitch)
    text += f"%{note.head.text}" if note.head and note.head.text != "normal" else ""
    text += f"@{note.voice_staff}" if note.voice_staff else ""
    text += "".join(f"\\{m[1:]}" for m in _marks(note.marks))
    if note.tie_start:
        text += "~?" if "start" in lone else "~"
    return text


def _pitch(pitch: Pitch) -> str:
    if pitch.alter != int(pitch.alter):
        raise ValueError(f"the mini-notation has no quarter tones ({pitch})")
    return str(pitch)


def _drum(drum: Drum) -> str:
    sound = f"={drum.instrument}" if drum.instrument else ""
    if drum.octave == -99:
        return f"x?{sound}"
    place = "" if (drum.step, drum.octave) == (6, 4) else f"{'CDEFGAB'[drum.step]}{drum.octave}"
    return f"x{place}{sound}"


def _accidental(mark: Mark, pitch: Pitch | Drum) -> str:
    if mark.get("parentheses") == "yes" or mark.get("cautionary") == "yes":
        return "**"
    usual = mw.ACCIDENTALS.get(int(pitch.alter)) if isinstance(pitch, Pitch) else None
    return "*" if mark.text == usual else f"*{mark.text}"


def _grace(event: Event) -> str:
    if not event.grace:
        return ""
    return "^/" if event.grace.get("slash") == "yes" else "^"


def _slurs(marks: tuple[Mark, ...]) -> str:
    signs = {"start": "(", "stop": ")"}
    return "".join(
        signs.get(m.get("type"), "") + m.get("number", "1").removeprefix("1")
        for m in marks
        if m.name == "slur"
    )


def _marks(marks: tuple[Mark, ...]) -> Iterator[str]:
    for mark in marks:
        if mark.name in ("slur", "tuplet", "tied", "instrument"):
            continue
        sign = mw.ARTICULATION_SIGNS.get(mark.name, mark.name)
        inner = ",".join(re.findall(r"<([\w-]+)", mark.inner))
        end = {"start": "(", "stop": ")"}.get(mark.get("type"), "")
        yield f";{sign}{mark.text.strip()}{f'[{inner}]' if inner else ''}{end}"


def _tuplet(event: Event, kind: str) -> bool:
    return any(m.name == "tuplet" and m.get("type") == kind for m in event.marks)


def _lyric(lyric: Lyric) -> str:
    verse = "" if lyric.verse in ("1", "") else f"{lyric.verse}:"
    before = "-" if lyric.syllabic in ("middle", "end") else ""
    after = "-" if lyric.syllabic in ("begin", "middle") else ""
    line = "_" if "<extend" in lyric.mark.inner else ""
    return f"'{verse}{before}{lyric.text}{after}{line}".replace(" ", "\u00a0")


def _direction(direction: Direction, show: Collection[str]) -> Iterator[str]:
    tail = ""
    if direction.placement and "placement" in show:
        tail += f"&{direction.placement}"
    if direction.sound and "sound" in show:
        tail += "".join(f"&sound={tag}" for tag in _outer_tags(direction.sound.inner))
    for mark in direction.marks:
        yield _direction_mark(mark) + tail


def _outer_tags(inner: str) -> list[str]:
    return [tag for tag in re.findall(r"<([\w-]+)", inner) if tag == "instrument-change"]


def _direction_mark(mark: Mark) -> str:
    if mark.name == "words":
        return '"' + re.sub(r'(["\\])', r"\\\1", mark.text) + '"'
    if mark.name == "rehearsal":
        return f"[{mark.text}]"
    if mark.name == "dynamics":
        other = re.search(r"<other-dynamics[^>]*>([^<]*)", mark.inner)
        return "!" + (other[1] if other else "".join(re.findall(r"<([\w-]+)", mark.inner)))
    if mark.name == "wedge":
        return "!" + mw.HAIRPIN_SIGNS.get(mark.get("type"), mark.get("type"))
    if mark.name == "metronome":
        return _metronome(mark.inner)
    kind = f":{mark.get('type')}" if mark.get("type") else ""
    return f"<{mark.name}{kind}>"


def _metronome(inner: str) -> str:
    unit = re.search(r"<beat-unit>(\w+)<", inner)
    rate = re.search(r"<per-minute[^>]*>([^<]*)<", inner)
    letter = mw.LETTERS.get(unit[1], unit[1]) if unit else "?"
    dots = "." * inner.count("<beat-unit-dot")
    return f"<{letter}{dots}={rate[1] if rate else '?'}>"


def _rank(change: Change) -> int:
    for place, kind in enumerate((Clef, Key, Time, Transposition)):
        if isinstance(change.what, kind):
            return place
    return 9


def _change(change: Change) -> str:
    what = change.what
    if isinstance(what, Clef):
        return _clef(what)
    if isinstance(what, Key):
        return f"k{what.fifths}" + (f":{what.mode}" if what.mode else "")
    if isinstance(what, Time):
        return _time(what)
    if isinstance(what, Transposition):
        return f"tr({what.diatonic},{what.chromatic},{what.octave})"
    return f"<{what.name}>"


def _clef(clef: Clef) -> str:
    if clef.sign == "percussion":
        return "@perc"
    return f"@{mw.CLEF_NAMES.get(clef, f'{clef.sign}{clef.line}{clef.octave:+d}')}"


def _time(time: Time) -> str:
    if mw.TIMES.get(time.symbol) == time.beats:
        return f"t{time.symbol}"
    return "t" + "+".join(f"{beats}/{unit}" for beats, unit in time.beats)


def _opening_transposition(part: Part) -> Transposition:
    for change in part.bars[0].changes if part.bars else ():
        if isinstance(change.what, Transposition) and change.at == 0:
            return change.what
    return CONCERT


def _barlines(barlines: tuple[Barline, ...], *, first: bool) -> tuple[str, str]:
    """The sign before the bar and the one after it; a repeat's start is printed before its bar."""
    by_side = {b.location: b for b in barlines}
    left, right = by_side.get("left"), by_side.get("right")
    before = "|:" if left and left.repeat else ""
    if right and right.repeat:
        return before, ":|"
    return before, mw.BARLINE_SIGNS.get(right.style, f"|?{right.style}") if right else "|"


def _endings(barlines: tuple[Barline, ...]) -> list[str]:
    marks = [b.ending for b in barlines if b.ending]
    return [f"volta{m.get('number')}{mw.ENDING_SIGNS.get(m.get('type'), '?')}" for m in marks]


def _number_token(bars: tuple[Bar, ...], index: int) -> str:
    bar = bars[index]
    before = bars[index - 1].number if index else "0"
    usual = str(int(before) + 1) if before.isdigit() else ""
    pickup = index == 0 and bar.length < bar.nominal
    if bar.implicit == pickup and bar.number == ("0" if pickup else usual):
        return ""
    return f"#{bar.number}{'!' if bar.implicit else ''}"


def value_text(value: Value) -> str:
    """A value alone, such as `q.`."""
    return mw.LETTERS[value.type] + "." * value.dots


def harmony_text(harmony: Harmony) -> str:
    """A chord symbol alone, such as `Dm7`."""
    return mw.chord_text(harmony)
