"""The ledger: every note of the sketch placed, replaced, or listed as given to nobody."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from expander.model.finding import Finding, Ledger, LostNote, Severity
from expander.model.plan import Line, Strand
from expander.model.score import P, Score, Sketch
from expander.model.walk import notes_of
from expander.sounding import Origin, origins

_NAMED = 8
"""How many pitches a finding names; the report has them all."""


class Accounts(Struct, frozen=True):
    """What the ledger is made from.

    `dropped` are notes (by origin) left out while dealing, with the reason; `unplayable` are
    lines whose player cannot play such notes at all, with the bar index.
    """

    sketch: Sketch
    strands: Mapping[str, Strand]
    dropped: Sequence[tuple[int, str]]
    unplayable: Sequence[tuple[Line, int]] = ()


def account(books: Accounts, score: Score[P]) -> tuple[Ledger, list[Finding]]:
    """Follow every note of the sketch into the score that was written."""
    known = origins(books.sketch)
    placed = _origins_in(score)
    replaced = {n for s in books.strands.values() for n in s.replaces} - placed
    reasons = dict(books.dropped)
    lost = [(n, at) for n, at in known.items() if n not in placed and n not in replaced]
    unplaced = tuple(_lost(books.sketch, at, reasons.get(n, "")) for n, at in lost)
    ledger = Ledger(
        notes=len(known),
        placed=len(known.keys() & placed),
        replaced=len(known.keys() & replaced),
        unplaced=unplaced,
    )
    return ledger, _findings(list(zip(unplaced, [at.bar for _, at in lost], strict=True)))


def _findings(lost: Sequence[tuple[LostNote, int]]) -> list[Finding]:
    """One finding for what one layer loses for one reason in bars that follow each other."""
    by_line: dict[tuple[int, int, str], list[tuple[LostNote, int]]] = {}
    for note, bar in lost:
        by_line.setdefault((note.staff, note.layer, note.reason), []).append((note, bar))
    runs = []
    for line, notes in by_line.items():
        runs += [(run[0][1], line, [note for note, _ in run]) for run in _runs(notes)]
    return [_told(notes, bar) for bar, _, notes in sorted(runs, key=lambda run: run[:2])]


def _runs(notes: Sequence[tuple[LostNote, int]]) -> list[list[tuple[LostNote, int]]]:
    """Notes with their bars, parted wherever a bar between them loses nothing."""
    runs: list[list[tuple[LostNote, int]]] = []
    for note, bar in sorted(notes, key=lambda row: row[1]):
        if not runs or bar > runs[-1][-1][1] + 1:
            runs.append([])
        runs[-1].append((note, bar))
    return runs


def _origins_in(score: Score[P]) -> set[int]:
    """The numbers of the sketch notes that a score has."""
    notes = list(notes_of(score))
    return {note.origin for note in notes}.union(*[note.also for note in notes if note.also])


def beat(sketch: Score[P], bar: int, at: int) -> float:
    """The beat of a place, from 1.0, in units of the time signature's lower figure."""
    time = sketch.bars[bar].time
    kind = time.beats[0][1] if time.beats else "4"
    unit = 4 * sketch.grid / int(kind) if kind.isdigit() and int(kind) else sketch.grid
    return round(1 + at / unit, 3)


def _lost(sketch: Sketch, origin: Origin, reason: str) -> LostNote:
    return LostNote(
        staff=origin.staff,
        layer=origin.layer,
        bar=sketch.bars[origin.bar].number,
        beat=beat(sketch, origin.bar, origin.at),
        pitch=str(origin.pitch),
        reason=reason or "no entry of the plan plays it here",
    )


def _told(notes: Sequence[LostNote], index: int) -> Finding:
    """The finding for notes of one layer, from the bar of that index on."""
    first, last = notes[0], notes[-1]
    found = list(dict.fromkeys(note.pitch for note in notes))
    more = [f"and {len(found) - _NAMED} more"] if len(found) > _NAMED else []
    pitches = ", ".join([*found[:_NAMED], *more])
    count = f"{len(notes)} notes ({pitches})" if len(notes) > 1 else pitches
    verb = "are" if len(notes) > 1 else "is"
    until = f", as far as bar {last.bar}," if last.bar != first.bar else ""
    return Finding(
        check="given-to-nobody",
        severity=Severity.ERROR,
        message=f"{count} of layer {first.layer}{until} {verb} given to nobody: {first.reason}.",
        part=f"sketch staff {first.staff}",
        bar=first.bar,
        beat=first.beat,
        pitch=first.pitch,
        index=index,
    )
