"""Planting faults and looking for them again."""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache

from msgspec import Struct
from msgspec.structs import replace

from expander.checks import run
from expander.model.finding import Finding, Ledger, LostNote
from expander.model.score import Document
from tests.bench.checks_faults import FAULTS, Fault
from tests.bench.checks_music import BARS, PHRASE, Row, orchestra
from tests.checks.test_cases import with_lines
from tests.mini import document


class Planted(Struct, frozen=True):
    """One planted fault: what was found by its check in its part and bars, and what was not new."""

    fault: Fault
    seed: int
    bar: int
    found: bool
    text: str


def score_of(rows: list[Row]) -> Document:
    """Rows as a score."""
    return with_lines(document("\n".join(row.text() for row in rows)))


def plant(fault: Fault, seed: int) -> Planted:
    """Plants a fault into the orchestra of a seed and tells whether its check finds it there."""
    dice = random.Random(f"{fault.check} {fault.part} {seed}")
    text = dice.choice(fault.bars) if fault.bars else ""
    length = max(1, len(_cut(text)))
    bar = _bar(dice, fault, length)
    rows = [_changed(row, fault, text, bar) for row in orchestra(seed, fault.only)]
    new = _places(run(score_of(rows), only=[fault.check])) - _clean(seed, fault.only, fault.check)
    span = range(bar, bar + length)
    found = any(p == _part(fault) and b in span for p, b in new)
    return Planted(fault, seed, bar, found, text or fault.head or fault.opening)


def _part(fault: Fault) -> str:
    """The part in which the finding has to stand."""
    if fault.finds is not None:
        return fault.finds
    return (fault.head or fault.part).partition(" (")[0]


def _changed(row: Row, fault: Fault, text: str, bar: int) -> Row:
    if row.name == fault.part:
        row = row.with_bars(bar, _cut(text))
        return replace(row, head=fault.head or row.head, opening=fault.opening or row.opening)
    others = dict(fault.also)
    return row.with_bars(bar, _cut(others[row.name])) if row.name in others else row


def _cut(text: str) -> list[str]:
    """Text as bars."""
    return text.split(" | ") if text else []


@cache
def _clean(seed: int, only: tuple[str, ...], check: str) -> frozenset[tuple[str, int]]:
    """What a check finds in the orchestra before anything is planted."""
    return frozenset(_places(run(_orchestra(seed, only), only=[check])))


@cache
def _orchestra(seed: int, only: tuple[str, ...]) -> Document:
    return score_of(orchestra(seed, only))


def _bar(dice: random.Random, fault: Fault, length: int) -> int:
    """A bar to plant in: the first of a phrase, so that what stands before is a rest."""
    if fault.at is not None:
        return fault.at
    starts = [b for b in range(PHRASE, BARS - max(length, 1)) if b % PHRASE in (0, 1)]
    return dice.choice(starts)


def _places(findings: list[Finding]) -> set[tuple[str, int]]:
    return {(f.part, f.index) for f in findings}


def lost_notes(seed: int) -> list[Planted]:
    """The two checks of the ledger: a lost note, and two players on one note beside it."""
    dice = random.Random(seed)
    score = score_of(orchestra(seed, ("Flute 1", "Flute 2")))
    bar = dice.choice([b for b in range(BARS) if b % PHRASE != PHRASE - 1])
    lost = LostNote(1, 1, score.bars[bar].number, 1.0, "E5")
    ledger = Ledger(10, 9, 0, (lost,))
    doubled = _same_origin(score, bar)
    found = {f.check for f in run(doubled, ledger=ledger) if f.index == bar}
    ids = ("lost-sketch-note", "unasked-doubling")
    return [Planted(Fault(c, "Flute 1"), seed, bar, c in found, "ledger") for c in ids]


def _same_origin(score: Document, bar: int) -> Document:
    """All notes of a bar as the copies of one sketch note."""
    parts = []
    for part in score.parts:
        bars = list(part.bars)
        layers = tuple(
            tuple(replace(e, notes=tuple(replace(n, origin=7) for n in e.notes)) for e in layer)
            for layer in bars[bar].layers
        )
        bars[bar] = replace(bars[bar], layers=layers)
        parts.append(replace(part, bars=tuple(bars)))
    return replace(score, parts=tuple(parts))


def planted(seeds: range) -> Iterator[Planted]:
    """Every fault in the orchestra of every seed."""
    for seed in seeds:
        yield from (plant(fault, seed) for fault in FAULTS)
        yield from lost_notes(seed)
