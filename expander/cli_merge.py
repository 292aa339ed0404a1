"""The command that carries hand edits over into a score that was expanded again."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from expander.cli_common import (
    SAID_BY_CHECKS,
    OutOption,
    ReportOption,
    not_the_input,
    read_and_tell,
    told,
    warn,
)
from expander.errors import BadUsage


class Keep(StrEnum):
    """Which version stands where both changed the same thing."""

    NEW = "new"
    EDITED = "edited"


def add_to(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command(
        epilog="Example: expander merge first.musicxml again.musicxml by-hand.musicxml -o score.mxl"
    )(merge)


def merge(
    old: Annotated[Path, typer.Argument(help="The score as it was first expanded.")],
    new: Annotated[Path, typer.Argument(help="The score as it is expanded now.")],
    edited: Annotated[Path, typer.Argument(help="The first score with what was changed by hand.")],
    output: OutOption,
    keep: Annotated[
        Keep, typer.Option(help="What stands where both changed the same thing.")
    ] = Keep.NEW,
    report: ReportOption = None,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit with 1 where there are conflicts.")
    ] = False,
) -> None:
    """Bring what is new in a score expanded again into the one that was edited by hand."""
    from expander.merge import merge as merged
    from expander.merge.telling import lines, report_of, summary
    from expander.musicxml import file_bytes
    from expander.outputs import put_in_place

    for made in (output, report):
        not_the_input(made, [old, new, edited, output if made is report else None])
    _three_files(old, new, edited)
    scores = [read_and_tell(path) for path in (old, new, edited)]
    with told("merging"):
        done = merged(*scores, keep_edited=keep is Keep.EDITED)
    with told("writing"):
        files = {output: file_bytes(done.score, output)}
        if report:
            files[report] = report_of(done).encode()
        put_in_place(files)
    for line in lines(done, str(report or "")):
        warn(line)
    warn(f"{output}: {summary(done)}")
    if strict and done.conflicts:
        raise typer.Exit(SAID_BY_CHECKS)


def _three_files(old: Path, new: Path, edited: Path) -> None:
    """Refuse one file in two places: there is nothing to bring over."""
    pairs = (
        (old, new, "old", "new", "Expand the short score again and name what that wrote."),
        (old, edited, "old", "edited", "Without edits the new score is all there is to have."),
        (new, edited, "new", "edited", "Name the score that was changed by hand."),
    )
    for one, other, first, second, hint in pairs:
        if one.resolve() == other.resolve():
            raise BadUsage(
                f"{one} is given for both the {first} and the {second} score.", hint=hint
            )
