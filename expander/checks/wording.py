"""Findings as text for a musician, grouped by part, or as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from expander.model.finding import CAUTION as CAUTION
from expander.model.finding import SCHEMA, Finding, Severity, finding_data

_WHOLE = "The whole score"
_PLURALS = {Severity.ERROR: "errors", Severity.WARNING: "warnings", Severity.NOTE: "notes"}


def as_text(findings: Sequence[Finding]) -> str:
    """Findings for reading: a part's name, then one line each with bar, beat and severity."""
    if not findings:
        return f"Nothing found.\n{CAUTION}\n"
    lines: list[str] = []
    for part in dict.fromkeys(f.part for f in findings):
        lines += [part or _WHOLE, *(_line(f) for f in findings if f.part == part), ""]
    return "\n".join([*lines, f"{counted(findings)}.", CAUTION, ""])


def _line(finding: Finding) -> str:
    beat = f" beat {finding.beat:g}" if finding.beat is not None and finding.bar else ""
    place = f"bar {finding.bar}{beat}: " if finding.bar else ""
    return f"  {finding.severity.value}: {place}{finding.message} [{finding.check}]"


def counted(findings: Sequence[Finding]) -> str:
    """How many of each severity: "2 errors, 1 warning"."""
    counts = [(kind, sum(f.severity == kind for f in findings)) for kind in Severity]
    said = [f"{n} {_PLURALS[kind] if n > 1 else kind.value}" for kind, n in counts if n]
    return ", ".join(said) or "nothing found"


def as_json(findings: Sequence[Finding]) -> dict[str, Any]:
    """Findings as plain data in the report's form, with the caution."""
    return {
        "schema": SCHEMA,
        "caution": CAUTION,
        "findings": [finding_data(finding) for finding in findings],
    }
