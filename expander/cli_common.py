"""What the commands share: arguments that mean the same, and how they speak on a terminal.

The modules of the commands have no `from __future__ import annotations`: every start of the
program would compile the annotations of all commands from text again.
"""

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from expander.errors import BadUsage, printable

if TYPE_CHECKING:
    from expander.model.score import Document

SAID_BY_CHECKS = 1


class Pitch(StrEnum):
    """How the score is shown."""

    CONCERT = "concert"
    TRANSPOSED = "transposed"


ScoreArgument = Annotated[Path, typer.Argument(help="A full score (MusicXML).")]
EnsembleOption = Annotated[
    str, typer.Option("-e", "--ensemble", help="A shipped line-up, or an ensemble file.")
]
RulesOption = Annotated[Path | None, typer.Option("-r", "--rules", help="The rule file.")]
OutOption = Annotated[Path, typer.Option("-o", "--output", help="The file to write.")]
PitchOption = Annotated[
    Pitch | None, typer.Option(help="Show the score transposed or at concert pitch.")
]
ReportOption = Annotated[Path | None, typer.Option(help="Also write the report to this JSON file.")]
StrictOption = Annotated[
    bool, typer.Option("--strict", help="Exit with 1 where the checks find errors.")
]


def warn(text: str) -> None:
    """Say something on standard error."""
    typer.echo(printable(text), err=True)


def not_the_input(output: Path | None, others: Sequence[Path | None]) -> None:
    """Refuse to write over what is read, or over another output."""
    for other in others:
        if output is not None and other is not None and _same_file(other, output):
            raise BadUsage(
                f"the output {output} is another file of this command too.",
                hint="Choose another name for it.",
            )


def _same_file(one: Path, other: Path) -> bool:
    try:
        return one.resolve() == other.resolve() or one.samefile(other)
    except (OSError, RuntimeError, ValueError):  # links in a circle, names no disk can hold
        return False


@contextmanager
def told(doing: str) -> Iterator[None]:
    """Say on a terminal what is being done; stay quiet in a pipe."""
    if not sys.stderr.isatty():
        yield
        return
    sys.stderr.write(f"\r\033[K{doing} …")
    sys.stderr.flush()
    try:
        yield
    finally:
        sys.stderr.write("\r\033[K")
        sys.stderr.flush()


def read_and_tell(path: Path) -> "Document":
    """Read a score, saying on standard error what was odd in it."""
    from expander.musicxml import read

    with told("reading"):
        document = read(path)
    for oddity in document.warnings:
        warn(f"{path}:{oddity.line}: {oddity.message}" if oddity.line else oddity.message)
    return document
