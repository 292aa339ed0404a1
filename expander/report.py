"""The report: what was done with the sketch, as JSON and as text for a musician."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from expander.model.finding import CAUTION as CAUTION
from expander.model.finding import SCHEMA as SCHEMA
from expander.model.finding import Finding, Ledger, Severity
from expander.model.finding import finding_data as finding_data
from expander.model.pitch import Drum, Transposition, Written
from expander.model.score import Document, Part


def as_json(ledger: Ledger, findings: Sequence[Finding], score: Document) -> str:
    """The report as JSON text, the same bytes for the same music."""
    data = {
        "schema": SCHEMA,
        "sketch": _sketch(ledger),
        "findings": [finding_data(f) for f in findings],
        "parts": [_part(part) for part in score.parts],
    }
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _sketch(ledger: Ledger) -> dict[str, Any]:
    return {
        "notes": ledger.notes,
        "placed": ledger.placed,
        "replaced": ledger.replaced,
        "unplaced": [
            {
                "staff": note.staff,
                "layer": note.layer,
                "bar": note.bar,
                "beat": note.beat,
                "pitch": note.pitch,
                "reason": note.reason,
            }
            for note in ledger.unplaced
        ],
    }


def _part(part: Part[Written]) -> dict[str, Any]:
    """Name, bars, notes (a chord of three is three, a tied chain one) and sounding compass."""
    heights: list[tuple[float, str]] = []
    notes = 0
    transposition = Transposition()
    for bar in part.bars:
        for change in bar.changes:
            if isinstance(change.what, Transposition):
                transposition = change.what
        for event in (e for layer in bar.layers for e in layer):
            for note in event.notes:
                notes += not note.tie_stop
                if not isinstance(note.pitch, Drum):
                    sounding = transposition.sounding(note.pitch)
                    heights.append((float(sounding.semitone), str(sounding)))
    data: dict[str, Any] = {"name": part.name, "bars": len(part.bars), "notes": notes}
    if heights:
        data["sounding"] = [min(heights)[1], max(heights)[1]]
    return data


def as_text(ledger: Ledger, findings: Sequence[Finding]) -> str:
    """A short report for reading: the ledger, then findings by severity and part."""
    lines = [ledger_line(ledger)]
    for severity in Severity:
        chosen = [f for f in findings if f.severity == severity]
        lines += [f"{severity.value}: {place(f)}{f.message}" for f in chosen]
    return "\n".join(lines)


def ledger_line(ledger: Ledger) -> str:
    """The ledger in one line."""
    line = f"{ledger.notes} notes in the sketch: {ledger.placed} placed"
    if ledger.replaced:
        line += f", {ledger.replaced} replaced"
    return f"{line}, {len(ledger.unplaced)} given to nobody."


def place(finding: Finding) -> str:
    """Part, bar and beat of a finding, as far as they are known."""
    beat = f" beat {finding.beat:g}" if finding.beat is not None else ""
    bar = f"bar {finding.bar}{beat}" if finding.bar else ""
    known = [text for text in (finding.part, bar) if text]
    return ", ".join(known) + ": " if known else ""
