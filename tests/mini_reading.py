"""Mini-notation to score: see `tests/mini.py` for the notation."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from fractions import Fraction

from msgspec.structs import replace

from expander.model.pitch import CONCERT, Drum, Pitch, Transposition
from expander.model.score import (
    Change,
    Direction,
    Event,
    Key,
    Lyric,
    Mark,
    Note,
    Score,
    Time,
    Value,
)
from tests import mini_words as mw
from tests.mini_joining import Reading, Stave, assembled

FINEST = 161280  # ticks of a quarter while reading; enough for 64ths in 3, 5, 7 and 9

_LINE = re.compile(
    r'^(?P<name>[^:"|{<\[]*?)\s*(?:\((?P<by>-?\d+ -?\d+ -?\d+)\))?\s*:\s+(?P<body>.*)$'
)
_TOKEN = re.compile(
    r'"(?:[^"\\]|\\.)*"(?:&\S+)?'
    r"|\d+(?::\d+)?\??\("
    r"|\{[^}]*\}(?:&\S+)?|\[[^\]]*\](?:&\S+)?|<[^>]*>(?:&\S+)?"
    r"|(?<!\S):\|:|(?<!\S)\|:|(?<!\S):\||\|\||\|\.|\|"
    r"|[^\s|]+"
)
_SEPARATORS = {"|", "||", "|.", "|:", ":|", ":|:"}
_EVENT = re.compile(
    r"^(?P<cue>,)?(?P<grace>\^/?)?(?P<heads>(?:[^:;()\\]|\\[\w-]+(?:\[[\w,-]*\])?[()]?)+)"
    r"(?::(?P<value>[bwhqestx]\.*|-?\d+(?:/\d+)?))?"
    r"(?P<slurs>(?:[()]\d?)*)(?P<marks>(?:;[^;]+)*)$"
)
_HEAD = re.compile(
    r"^(?P<stop>\??~)?(?:(?P<pitch>[A-G](?:##|bb|#|b)?-?\d)|(?P<drum>x(?:[A-G]\d|\?)?(?:=[\w-]+)?))"
    r"(?P<acc>\*\*|\*[a-z-]+|\*)?(?P<head>%[\w-]+)?(?P<staff>@\d)?"
    r"(?P<marks>(?:\\[\w-]+(?:\[[\w,-]*\])?[()]?)*)(?P<start>~\??)?$"
)
_MARK = re.compile(r"^(?P<name>[\w-]+?|\W)(?P<text>\d*)(?P<inner>\[[\w,-]*\])?(?P<end>[()])?$")
_TUPLET = re.compile(r"^(\d+)(?::(\d+))?(\??)\($")
_METRONOME = re.compile(r"^([bwhqestx])(\.*)=(.+)$")


def read(text: str, kind: type[Pitch]) -> Score:
    """Read a score whose pitches are of the given kind, on the coarsest grid that fits it."""
    fine = _Reader(FINEST, kind).score(text)
    step = math.gcd(FINEST, *_times(fine))
    return _Reader(FINEST // step, kind).score(text)


def _times(score: Score) -> Iterator[int]:
    for bar in score.bars:
        yield bar.length
        yield bar.nominal
    for part in score.parts:
        for bar in part.bars:
            yield from (e.duration for layer in bar.layers for e in layer)
            yield from (e.at for layer in bar.layers for e in layer)
            yield from (x.at for x in (*bar.changes, *bar.directions, *bar.harmonies))


def duration_of(value: Value) -> Fraction:
    """The length of a notated value in quarters."""
    full = mw.QUARTERS[value.type] * (2 - Fraction(1, 2**value.dots))
    return full * value.normal / value.actual


def usual_normal(actual: int) -> int:
    """In the time of how many a tuplet goes when nothing is said: 3 in 2, 5 in 4, 2 in 3."""
    return {2: 3, 4: 3}.get(actual, 2 ** ((actual - 1).bit_length() - 1))


class _Reader:
    def __init__(self, grid: int, kind: type[Pitch]) -> None:
        self.grid = grid
        self.kind = kind

    def ticks(self, quarters: Fraction) -> int:
        """Quarters as ticks; on a grid too coarse this is an error."""
        exact = quarters * self.grid
        if exact.denominator != 1:
            raise ValueError(f"{quarters} quarters do not fit {self.grid} ticks")
        return int(exact)

    def score(self, text: str) -> Score:
        lines = [_split(line) for line in _lines(text)]
        shared = [body for name, _, body in lines if name == "*"]
        staves: list[Stave] = []
        for name, by, body in lines:
            if name == "*":
                continue
            staff = staves[-1].staff + 1 if name == "+" else 1
            staves.append(Stave(name, by, self.bars(body, staff), staff))
        for body in shared:
            self.share(staves, self.bars(body, 1))
        counts = {len(s.bars) for s in staves}
        if len(counts) > 1:
            raise ValueError(f"the staves have different numbers of bars: {sorted(counts)}")
        return assembled(self.grid, staves)

    def share(self, staves: list[Stave], bars: list[Reading]) -> None:
        """The `*` line: attributes and barlines for every stave, marks for the top one."""
        for stave in staves:
            for mine, theirs in zip(stave.bars, bars, strict=True):
                if stave.staff == 1:
                    own = {(c.at, type(c.what)) for c in mine.changes}
                    given = [c for c in theirs.changes if (c.at, type(c.what)) not in own]
                    mine.changes = sorted([*given, *mine.changes], key=lambda c: c.at)
                mine.left, mine.right = theirs.left, theirs.right
                mine.endings = theirs.endings
        for mine, theirs in zip(staves[0].bars, bars, strict=True):
            mine.directions = sorted([*theirs.directions, *mine.directions], key=lambda d: d.at)
            mine.number = theirs.number

    def bars(self, body: str, staff: int) -> list[Reading]:
        tokens = _TOKEN.findall(body)
        bars: list[Reading] = []
        held: list[str] = []
        left = ""
        for token in tokens:
            if token not in _SEPARATORS:
                held.append(token)
                continue
            if held:
                bars.append(self.bar(held, staff, left, token))
            elif bars and token not in ("|:",):
                raise ValueError(f"an empty bar before {token}: write _ for no music, R for rest")
            left = "|:" if token in ("|:", ":|:") else ""
            held = []
        if held:
            bars.append(self.bar(held, staff, left, "|"))
        return bars

    def bar(self, tokens: list[str], staff: int, left: str, right: str) -> Reading:
        bar = Reading(left=left, right={"|:": "|", ":|:": ":|"}.get(right, right))
        for number, layer in enumerate(_layers(tokens)):
            bar.layers.append(_Layer(self, bar, staff, number).events(layer))
        bar.directions.sort(key=lambda d: d.at)
        bar.changes.sort(key=lambda c: c.at)
        return bar


class _Layer:
    """Reads the tokens of one layer in one bar, keeping the place reached."""

    def __init__(self, reader: _Reader, bar: Reading, staff: int, number: int) -> None:
        self.reader = reader
        self.bar = bar
        self.staff = staff
        self.number = number
        self.at = Fraction(0)
        self.value = ""
        self.ratio = (1, 1)
        self.opening = False
        self.found: list[Event] = []

    def events(self, tokens: list[str]) -> list[Event]:
        for token in tokens:
            self.token(token)
        if self.ratio != (1, 1):
            raise ValueError(f"a tuplet is not closed by ' )' in: {' '.join(tokens)}")
        return self.found

    def token(self, token: str) -> None:
        """One token, by its first sign."""
        if found := _TUPLET.match(token):
            actual = int(found[1])
            self.ratio = (actual, int(found[2] or usual_normal(actual)))
            self.opening = not found[3]
        elif token in (")", "?)"):
            self.close(marked=token == ")")
        elif token[0] in '"![<':
            self.direction(token)
        elif token[0] == "{":
            self.chord_symbol(token)
        elif token[0] == "'":
            self.syllable(token[1:])
        elif not self.attribute(token):
            self.event(token)

    def close(self, *, marked: bool) -> None:
        self.ratio = (1, 1)
        if marked:
            mark = mw.spanner("notations", "tuplet", "stop")
            self.found[-1] = replace(self.found[-1], marks=(*self.found[-1].marks, mark))

    def placed(self, token: str) -> tuple[str, int, dict[str, str]]:
        """A token without its `&` endings, its place in ticks, and what else they say."""
        quoted = token.rfind('"') if token[0] == '"' else 0
        body, *endings = token[quoted:].split("&")
        at, said = self.at, {}
        for ending in endings:
            if ending[0].isdigit():
                at = Fraction(ending)
            else:
                said[ending.split("=")[0]] = ending
        return token[:quoted] + body, self.reader.ticks(at), said

    def direction(self, token: str) -> None:
        body, at, said = self.placed(token)
        placement = next((side for side in ("above", "below") if side in said), "")
        sound = said.get("sound", "").removeprefix("sound=")
        self.bar.directions.append(
            Direction(
                at=at,
                marks=(_direction_mark(body),),
                staff=self.staff,
                voice=str(self.number + 1) if self.number else "",
                placement=placement,
                sound=Mark("direction", "sound", inner=f"<{sound}/>") if sound else None,
            )
        )

    def chord_symbol(self, token: str) -> None:
        body, at, _ = self.placed(token)
        self.bar.harmonies.append(mw.chord_symbol(body[1:-1], at, self.staff))

    def syllable(self, text: str) -> None:
        verse, colon, rest = text.partition(":")
        if not (colon and verse.isdigit()):
            verse, rest = "1", text
        extend = rest.endswith("_")
        rest = rest.removesuffix("_")
        syllabic = {(0, 0): "single", (0, 1): "begin", (1, 1): "middle", (1, 0): "end"}[
            rest.startswith("-"), rest.endswith("-")
        ]
        said = rest.removeprefix("-").removesuffix("-")
        mark = mw.lyric(verse, syllabic, said, extend=extend)
        last = self.found[-1]
        self.found[-1] = replace(last, lyrics=(*last.lyrics, Lyric(verse, syllabic, said, mark)))

    def attribute(self, token: str) -> bool:
        """Clef, key, time, transposition, bar number or ending; False for anything else."""
        if found := re.match(r"^volta(\w+)([+~-])$", token):
            self.bar.endings.append((found[1], mw.ENDINGS[found[2]]))
            return True
        if found := re.match(r"^#(\w+)(!?)$", token):
            self.bar.number = found[1] + found[2]
            return True
        body, at, _ = self.placed(token)
        what = _attribute(body)
        if what is None:
            return False
        own = body[0] == "@" or self.staff > 1
        self.bar.changes.append(Change(at, what, self.staff if own else 0))
        return True

    def event(self, token: str) -> None:
        found = _EVENT.match(token)
        if not found:
            raise ValueError(f"{token!r} is not a token of the mini-notation")
        heads = found["heads"]
        if heads == "R":
            self.whole_bar(found)
            return
        if heads == "_":
            self.at += self.length(found["value"])[1] if found["value"] else 0
            return
        value, length = self.length(found["value"], grace=bool(found["grace"]))
        notes = () if heads == "r" else tuple(self.head(h) for h in heads.split("+"))
        ticks = 0 if found["grace"] else self.reader.ticks(length)
        self.found.append(
            Event(
                at=self.reader.ticks(self.at),
                duration=ticks,
                notes=notes,
                value=value,
                marks=(*self.tuplet_start(), *_marks(found["slurs"], found["marks"])),
                grace=_grace(found["grace"]),
                cue=bool(found["cue"]),
            )
        )
        self.at += 0 if found["grace"] else length

    def tuplet_start(self) -> tuple[Mark, ...]:
        opening, self.opening = self.opening, False
        return (mw.spanner("notations", "tuplet", "start"),) if opening else ()

    def whole_bar(self, found: re.Match[str]) -> None:
        length = self.length(found["value"])[1] if found["value"] else Fraction(0)
        marks = _marks("", found["marks"])
        event = Event(0, self.reader.ticks(length), marks=marks, whole_bar=True)
        self.found.append(event)

    def length(self, text: str | None, *, grace: bool = False) -> tuple[Value | None, Fraction]:
        """A value and its length in quarters; without text, as the note before it."""
        if not text and grace:
            text = "e"
        elif text and not grace and text[0] not in "-0123456789":
            self.value = text
        text = text or self.value
        if not text:
            raise ValueError("the first note of a bar needs a value, such as C4:q")
        if text[0] in "-0123456789":
            return None, Fraction(text)
        value = Value(mw.VALUES[text[0]], text.count("."), *self.ratio)
        return value, duration_of(value)

    def head(self, text: str) -> Note:
        found = _HEAD.match(text)
        if not found:
            raise ValueError(f"{text!r} is not a note such as Bb3, F#5~ or xC5")
        pitch = self.reader.kind.named(found["pitch"]) if found["pitch"] else _drum(found["drum"])
        start, stop = found["start"] or "", found["stop"] or ""
        return Note(
            pitch=pitch,
            tie_start=bool(start),
            tie_stop=bool(stop),
            accidental=_accidental(found["acc"], pitch),
            head=Mark("note", "notehead", text=found["head"][1:]) if found["head"] else None,
            marks=tuple(_mark(m) for m in (found["marks"] or "").split("\\")[1:]),
            attributes=(("open-tie", start),) if start == "~?" else (),
            voice_staff=int(found["staff"][1:]) if found["staff"] else 0,
        )


def _direction_mark(body: str) -> Mark:
    if body[0] == '"':
        return mw.words(re.sub(r"\\(.)", r"\1", body[1:-1]))
    if body[0] == "[":
        return mw.rehearsal(body[1:-1])
    if body[0] == "<":
        return _angle(body[1:-1])
    name = body[1:]
    if name in mw.HAIRPINS:
        return mw.spanner("direction-type", "wedge", mw.HAIRPINS[name])
    return mw.dynamics(name)


def _angle(text: str) -> Mark:
    if found := _METRONOME.match(text):
        return mw.metronome(mw.VALUES[found[1]], len(found[2]), found[3])
    name, _, kind = text.partition(":")
    return Mark("direction-type", name, (("type", kind),) if kind else ())


def _attribute(body: str) -> Key | Time | Transposition | object | None:
    if body[0] == "@" and body[1:] in mw.CLEFS:
        return mw.CLEFS[body[1:]]
    if found := re.match(r"^k(-?\d)(?::(\w+))?$", body):
        return Key(int(found[1]), found[2] or "")
    if body[0] == "t" and body[1:] in mw.TIMES:
        return Time(mw.TIMES[body[1:]], body[1:])
    if found := re.match(r"^t([\d+]+)/(\d+)$", body):
        return Time(((found[1], found[2]),))
    if found := re.match(r"^tr\((-?\d+),(-?\d+),(-?\d+)\)$", body):
        return Transposition(*(int(n) for n in found.groups()))
    return None


def _grace(sign: str | None) -> Mark | None:
    if not sign:
        return None
    return Mark("note", "grace", (("slash", "yes"),) if sign == "^/" else ())


def _drum(text: str) -> Drum:
    place, _, instrument = text[1:].partition("=")
    if place == "?":
        return Drum(0, -99, instrument)
    if not place:
        return Drum(6, 4, instrument)
    return Drum("CDEFGAB".index(place[0]), int(place[1:]), instrument)


def _accidental(sign: str | None, pitch: Pitch | Drum) -> Mark | None:
    if not sign:
        return None
    name = sign.strip("*")
    if not name and isinstance(pitch, Pitch):
        name = mw.ACCIDENTALS[int(pitch.alter)]
    courtesy = (("parentheses", "yes"),) if sign == "**" else ()
    return Mark("note", "accidental", courtesy, name)


def _marks(slurs: str, marks: str) -> tuple[Mark, ...]:
    kinds = {"(": "start", ")": "stop"}
    found = [
        mw.spanner("notations", "slur", kinds[sign], number or "1")
        for sign, number in re.findall(r"([()])(\d?)", slurs)
    ]
    given = [_mark(m) for m in marks.split(";")[1:]]
    for mark in given:
        if mark.name in mw.HEAD_MARKS:
            raise ValueError(f";{mark.name} belongs to one head: write C4\\{mark.name}")
    return (*found, *given)


def _mark(text: str) -> Mark:
    found = _MARK.match(text)
    if not found:
        raise ValueError(f";{text} is not a mark this notation knows")
    name = mw.ARTICULATIONS.get(found["name"], found["name"])
    if name not in mw.GROUP_OF:
        raise ValueError(f";{text} is not a mark this notation knows")
    inner = "".join(f"<{tag}/>" for tag in filter(None, (found["inner"] or "[]")[1:-1].split(",")))
    kind = {"(": "start", ")": "stop", None: ""}[found["end"]]
    attributes = (("type", kind), ("number", "1")) if kind else ()
    if name == "tremolo" and not kind:
        attributes = (("type", "single"),)
    return Mark(mw.GROUP_OF[name], name, attributes, found["text"], inner)


def _lines(text: str) -> list[str]:
    joined = re.sub(r"\\\n\s*", "", text)
    lines = (line.strip() for line in joined.splitlines())
    return [line for line in lines if line and not line.startswith("//")]


def _split(line: str) -> tuple[str, Transposition, str]:
    found = _LINE.match(line)
    if not found:
        return "", CONCERT, line
    by = Transposition(*(int(n) for n in found["by"].split())) if found["by"] else CONCERT
    return found["name"].strip(), by, found["body"]


def _layers(tokens: list[str]) -> list[list[str]]:
    layers: list[list[str]] = [[]]
    for token in tokens:
        if token == "//":
            layers.append([])
        else:
            layers[-1].append(token)
    return layers
