"""What can go wrong with a file, said for a musician.

One base, few kinds, each with a place. Exceptions are for files that cannot be used;
music that can be written but is doubtful becomes a `Finding` (see `model/finding.py`).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Spot:
    """Where in a file: line and column count from 1; 0 means unknown."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        numbers = [str(n) for n in (self.line, self.column) if n]
        return ":".join([self.file, *numbers])


class ExpanderError(Exception):
    """Base of all errors a user can cause. `exit_status` is what the program ends with.

    `fault` says what is wrong with the offending name in it and what was expected;
    `hint` what to try.
    """

    exit_status = 2

    def __init__(self, fault: str, *, at: Spot | None = None, hint: str = "") -> None:
        self.fault = fault
        self.at = at
        self.hint = hint
        super().__init__(self.message)

    @property
    def message(self) -> str:
        """Place, fault and hint in one line."""
        place = f"{self.at}: " if self.at else ""
        hint = f" {self.hint}" if self.hint else ""
        return f"{place}{self.fault}{hint}"


class BadMusic(ExpanderError):
    """A score file that cannot be read as MusicXML."""


class BadRules(ExpanderError):
    """A rule, ensemble or jobs file with mistakes; all of them are in `mistakes`."""

    def __init__(self, mistakes: list[ExpanderError]) -> None:
        self.mistakes = mistakes
        first = mistakes[0]
        super().__init__(first.fault, at=first.at, hint=first.hint)

    @property
    def message(self) -> str:
        """Every mistake on its own line."""
        return "\n".join(m.message for m in self.mistakes)


class BadUsage(ExpanderError):
    """Arguments that do not fit together."""


class CannotWrite(ExpanderError):
    """An output that could not be written; nothing was changed."""
