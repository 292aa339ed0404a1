"""What a stage or a check has to say about the music, and the ledger of the sketch's notes."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from msgspec import Struct

SCHEMA = 1
"""The version of the report's form."""

CAUTION = (
    "Ranges, breaths and times are guides; the player has the last word. Nobody should be "
    "written into strain or harmful loudness."
)


class Severity(StrEnum):
    """error: cannot be played as written; warning: risky or unusual; note: worth a look."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


class Finding(Struct, frozen=True):
    """One thing found, at its place.

    `check` is the id in plain words ("above-range"). `bar` is the printed label, `beat` counts
    beats of the metre from 1.0 (2.5 is half-way through the second). `pitch` is the note found
    and `figure` what it was held against, both as text; `source` where the figure comes from.
    `index` is the bar's index from 0, for sorting.
    """

    check: str
    severity: Severity
    message: str
    part: str = ""
    bar: str = ""
    beat: float | None = None
    pitch: str = ""
    figure: str = ""
    source: str = ""
    index: int = 0


class LostNote(Struct, frozen=True):
    """A sketch note that nobody plays."""

    staff: int
    layer: int
    bar: str
    beat: float
    pitch: str
    reason: str = ""


class Ledger(Struct, frozen=True):
    """Where the sketch's notes went. `notes` = `placed` + `replaced` + len(`unplaced`)."""

    notes: int
    placed: int
    replaced: int
    unplaced: tuple[LostNote, ...]


def finding_data(finding: Finding) -> dict[str, Any]:
    """One finding as plain data for the report; what it does not say is left out."""
    data: dict[str, Any] = {
        "check": finding.check,
        "severity": finding.severity.value,
        "part": finding.part,
        "bar": finding.bar,
        "beat": finding.beat,
        "message": finding.message,
        "pitch": finding.pitch,
        "figure": finding.figure,
        "source": finding.source,
    }
    return {key: value for key, value in data.items() if value not in ("", None)}
