"""Reading the worked cases: text files with a title, then sections under `== name ==`.

source          where the expectation comes from
ensemble        a shipped ensemble's name, or an ensemble file's text
sketch          the short score in mini-notation (`tests/mini.py`), sounding
rules           the rule file's text
expected        the staves out, in mini-notation, as written
show            optional things to compare: accidentals, placement, sound (else none of them)
ignore          marks on notes that are not compared
findings        `part, bar` of something that must be reported
unplaced        how many of the sketch's notes nobody plays (else 0)
concert pitch   `yes` where the file must say so
"""

from __future__ import annotations

import re
from pathlib import Path

from msgspec import Struct

FOLDER = Path(__file__).parent / "cases"
SECTIONS = {
    "source",
    "ensemble",
    "sketch",
    "rules",
    "expected",
    "show",
    "ignore",
    "findings",
    "unplaced",
    "concert pitch",
}
NEEDED = {"source", "ensemble", "sketch", "rules", "expected"}


class Case(Struct, frozen=True):
    """One worked case."""

    name: str
    title: str
    sections: dict[str, str]

    def section(self, name: str) -> str:
        """A section's text, empty where the case has none."""
        return self.sections.get(name, "")

    def words(self, name: str) -> tuple[str, ...]:
        """A section's words."""
        return tuple(self.section(name).split())

    def lines(self, name: str) -> list[str]:
        """A section's lines."""
        return [line.strip() for line in self.section(name).splitlines() if line.strip()]


def case_files() -> list[Path]:
    """All cases, in order."""
    return sorted(FOLDER.glob("*.txt"))


def read_case(path: Path) -> Case:
    """One case. Raises ValueError where a section is missing or unknown."""
    head, *rest = re.split(r"^== (.+) ==\n", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
    sections = dict(zip(rest[::2], (text.strip() for text in rest[1::2]), strict=True))
    wrong = (set(sections) - SECTIONS) | (NEEDED - set(sections))
    if wrong:
        raise ValueError(f"{path.name}: sections missing or unknown: {sorted(wrong)}")
    return Case(path.stem, head.strip("# \n"), sections)
