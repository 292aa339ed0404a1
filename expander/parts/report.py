"""What was made, as data: notes counted, page turns, cues, findings."""

from __future__ import annotations

import json
from typing import Any

from expander.model.finding import Severity
from expander.model.score import Bar, Document
from expander.parts.make import PartSet, PlayerPart
from expander.report import SCHEMA, finding_data, place


def data_of(made: PartSet) -> dict[str, Any]:
    """The parts of a score as plain data: `score` counts notes, `parts` tells of each file."""
    books = made.account
    return {
        "score": {
            "notes": books.score,
            "in parts": books.parts,
            "missing": len(books.missing),
            "added": len(books.added),
        },
        "parts": [_part(part) for part in made.parts],
        "findings": [finding_data(finding) for finding in made.findings],
    }


def as_json(made: PartSet) -> str:
    """The same as JSON text, the same bytes for the same music."""
    data = {"schema": SCHEMA, **data_of(made)}
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _part(part: PlayerPart) -> dict[str, Any]:
    bars, layout = part.document.bars, part.layout
    return {
        "name": part.name,
        "file": f"{part.stem}.musicxml",
        "bars": len(bars),
        "notes": notes_in(part.document),
        "systems": 1 + len(layout.systems) + len(layout.pages),
        "pages": 1 + len(layout.pages),
        "first page": layout.opens,
        "layout cost": layout.cost,
        "turns": [
            {"before bar": bars[turn.bar].number, "rest seconds": turn.rest, "easy": turn.easy}
            for turn in layout.turns
        ],
        "cues": [{"bars": _span(bars, c.first, c.last), "from": c.source} for c in part.cues],
    }


def _span(bars: tuple[Bar, ...], first: int, last: int) -> str:
    one, other = bars[first].number, bars[last].number
    return one if first == last else f"{one}-{other}"


def notes_in(document: Document) -> int:
    """Heads in a part, cues left out."""
    return sum(
        len(event.notes)
        for part in document.parts
        for bar in part.bars
        for layer in bar.layers
        for event in layer
        if not event.cue
    )


def lines(made: PartSet) -> list[str]:
    """A summary for reading: the count, hard page turns, what is doubtful."""
    books = made.account
    counted = f"{books.score} notes in the score, {books.parts} in the parts"
    told = [f"{len(made.parts)} parts; {counted}."]
    for part in made.parts:
        told += [
            f"{part.name}: page turn before bar {part.document.bars[turn.bar].number} with "
            f"{turn.rest:g} s of rest; no layout has a better one."
            for turn in part.layout.turns
            if not turn.easy
        ]
    return [*told, *(f"{place(f)}{f.message}" for f in made.findings)]


def failed(made: PartSet) -> bool:
    """Whether the parts are not the score."""
    return any(finding.severity == Severity.ERROR for finding in made.findings)
