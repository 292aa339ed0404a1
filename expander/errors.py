"""What can go wrong with a file, said for a musician.

One base, few kinds, each with a place. Exceptions are for files that cannot be used;
music that can be written but is doubtful becomes a `Finding` (see `model/finding.py`).
"""

from __future__ import annotations

import re

from msgspec import Struct

LONGEST_WORD = 300
LONGEST_TEXT = 2_000
MOST_MISTAKES = 25
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
_LONG_WORD = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")


def printable(text: str) -> str:
    """Text from a file, fit for a terminal: nothing in it that steers one, no endless words."""
    clean = _CONTROL.sub(lambda m: " " if m[0] in "\n\r\t" else f"\\x{ord(m[0]):02x}", text)
    short = _LONG_WORD.sub(lambda m: f"{m[0][:100]}…", clean)
    return short if len(short) <= LONGEST_TEXT else f"{short[:LONGEST_TEXT]}…"


class Spot(Struct, frozen=True):
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
        if not self.hint:
            return place + printable(self.fault)
        end = "" if self.fault.endswith((".", "?", "!")) else "."
        return f"{place}{printable(self.fault)}{end} {printable(self.hint)}"


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
        """Every mistake on its own line; of very many, the first ones."""
        told = [m.message for m in self.mistakes[:MOST_MISTAKES]]
        more = len(self.mistakes) - len(told)
        return "\n".join([*told, f"... and {more} more mistakes."] if more else told)


class BadUsage(ExpanderError):
    """Arguments that do not fit together."""


class CannotWrite(ExpanderError):
    """An output that could not be written; nothing was changed."""
