"""Polyphony whose parts are known, from the music21 corpus, for the benchmark of voices.

What counts as a piece: four parts in MusicXML. Ties are joined, graces left out, repeats not
played. Several corpus files have bars that are too long or short in one part; every bar is
therefore set on the tick where most parts say it begins, and notes of bars that disagree are
given to the methods but not scored. Where a part has more than one note at once, the top line is
kept and what it hides is not scored. Pieces with a fifth or more of such notes are left out, and
chorales with any.
"""

from __future__ import annotations

import json
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

from msgspec import Struct

TICKS = 5040
"""Ticks in a quarter note: divisible by every tuplet met."""

COMPOSERS = ("haydn", "mozart", "beethoven", "schumann_robert")

TWIN = "bach/bwv398.mxl"
"""The same notes as BWV 197.7 in the half that is reported."""


class Head(Struct, frozen=True):
    """One note of a part; `scored` is False where the file cannot be trusted."""

    onset: int
    end: int
    semitone: int
    scored: bool = True


class Piece(Struct, frozen=True):
    """Four parts, the highest in score order first."""

    name: str
    group: str
    parts: tuple[tuple[Head, ...], ...]

    @property
    def notes(self) -> int:
        return sum(map(len, self.parts))


def pieces(store: Path | None = None) -> list[Piece]:
    """All pieces, sorted by name; `store` is a file to read them from, or to keep them in."""
    if store and store.exists():
        rows = json.loads(store.read_text())
    else:
        rows = [row for kind, path in _paths() if (row := _row(kind, path))]
        if store:
            store.write_text(json.dumps(rows))
    return [
        Piece(name, group, tuple(tuple(Head(*h) for h in part) for part in parts))
        for name, group, parts in sorted(rows)
    ]


def _paths() -> list[tuple[str, Path]]:
    from music21 import corpus

    bach = [("chorale", Path(p)) for p in corpus.getComposer("bach")]
    root = bach[0][1].parent.parent
    quartets = [
        ("quartet", path) for name in COMPOSERS for path in sorted((root / name).rglob("*"))
    ]
    return [(kind, p) for kind, p in bach + quartets if p.suffix in (".mxl", ".xml")]


def _row(kind: str, path: Path) -> list[Any] | None:
    """Name, group and parts of a usable piece."""
    from music21 import converter

    try:
        parts = list(converter.parse(path).parts)
    except Exception as fault:  # what the reader cannot read is no example
        print(f"{path.name}: not read ({fault})")
        return None
    bars = [list(p.stripTies().getElementsByClass("Measure")) for p in parts]
    if len(parts) != 4 or len({len(b) for b in bars}) != 1 or not bars[0]:
        return None
    starts, strange = _grid(bars)
    lines = [_line(b, starts, bad) for b, bad in zip(bars, strange, strict=True)]
    hidden = sum(lost for _, lost in lines)
    doubtful = sum(not h[3] for heads, _ in lines for h in heads)
    size = sum(len(heads) for heads, _ in lines)
    if min(len(heads) for heads, _ in lines) < 5 or 5 * doubtful > size or 2 * hidden > size:
        return None
    if kind == "chorale" and (hidden or any(strange)):
        return None
    name = f"{path.parent.name}/{path.name}" if kind == "chorale" else "/".join(path.parts[-3:])
    name = name[name.index(next(c for c in ("bach", *COMPOSERS) if c in name)) :]
    return [name, _group(kind, name), [heads for heads, _ in lines]]


def _group(kind: str, name: str) -> str:
    """The composer; of the chorales, even numbers are for tuning and odd ones are reported."""
    if kind == "quartet":
        return name.split("/")[0]
    number = int(name.split("bwv")[1].split(".")[0].split("-")[0])
    if name == TWIN:
        return "left out"
    return "chorales, tuning" if number % 2 == 0 else "chorales"


def _grid(bars: list[list[Any]]) -> tuple[list[Fraction], list[set[int]]]:
    """Where bars begin (in quarters) by what most parts say, and the bars each part has wrong."""
    starts = [Fraction(bars[0][0].offset)]
    strange: list[set[int]] = [set() for _ in bars]
    for index in range(len(bars[0]) - 1):
        lengths = [Fraction(b[index + 1].offset) - Fraction(b[index].offset) for b in bars]
        usual = max(sorted(set(lengths)), key=lengths.count)
        starts.append(starts[-1] + usual)
        for part, length in enumerate(lengths):
            if length != usual:
                strange[part].add(index)
    return starts, strange


def _line(
    bars: list[Any], starts: list[Fraction], strange: set[int]
) -> tuple[list[list[Any]], int]:
    """The top line of a part, and how many notes it hides."""
    line: list[list[Any]] = []
    hidden = 0
    for onset, end, semitone, scored in sorted(_heads(bars, starts, strange), key=_order):
        if line and onset < line[-1][1]:
            hidden += 1
            line[-1][3] = False
            if onset == line[-1][0] or semitone <= line[-1][2]:
                continue
            line[-1][1] = onset
            scored = False
        line.append([onset, end, semitone, scored])
    return line, hidden


def _order(head: tuple[int, int, int, bool]) -> tuple[int, int, int]:
    return (head[0], -head[2], head[0] - head[1])


def _heads(
    bars: list[Any], starts: list[Fraction], strange: set[int]
) -> list[tuple[int, int, int, bool]]:
    found = []
    for index, bar in enumerate(bars):
        for note in bar.recurse().notes:
            if note.duration.isGrace or not getattr(note, "pitches", None):
                continue
            at = starts[index] + Fraction(note.getOffsetInHierarchy(bar))
            onset, end = round(at * TICKS), round((at + Fraction(note.quarterLength)) * TICKS)
            if end > onset:
                found += [(onset, end, p.midi, index not in strange) for p in note.pitches]
    return found


def summary(found: list[Piece]) -> dict[str, tuple[int, int, int]]:
    """Group to pieces, notes, notes that are scored."""
    count: dict[str, Counter[str]] = {}
    for piece in found:
        row = count.setdefault(piece.group, Counter())
        row["pieces"] += 1
        row["notes"] += piece.notes
        row["scored"] += sum(h.scored for part in piece.parts for h in part)
    return {group: (r["pieces"], r["notes"], r["scored"]) for group, r in sorted(count.items())}
