"""What a stage or a check has to say about the music, and the ledger of the sketch's notes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """error: cannot be played as written; warning: risky or unusual; note: worth a look."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
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


@dataclass(frozen=True, slots=True)
class LostNote:
    """A sketch note that nobody plays."""

    staff: int
    layer: int
    bar: str
    beat: float
    pitch: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Ledger:
    """Where the sketch's notes went. `notes` = `placed` + `replaced` + len(`unplaced`)."""

    notes: int
    placed: int
    replaced: int
    unplaced: tuple[LostNote, ...]
