"""What an ensemble file says, as values. `ensemblefile.py` explains it and names mistakes."""

from __future__ import annotations

from typing import Annotated

from msgspec import Meta, Struct, ValidationError, convert

Name = Annotated[str, Meta(min_length=1, max_length=80)]


class PlayerEntry(Struct, frozen=True, forbid_unknown_fields=True):
    """One player, or a string section reading one part; `plays` names one instrument or several."""

    plays: list[Name] | Name
    name: str = ""
    size: Annotated[int, Meta(ge=1, le=60)] = 1
    label: str = ""
    short: str = ""
    optional: bool = False
    keyless: bool = False


class StaveEntry(Struct, frozen=True, forbid_unknown_fields=True):
    """Two or three like players on one staff."""

    players: Annotated[list[Name], Meta(min_length=1, max_length=3)]
    label: str = ""
    short: str = ""


class BracketEntry(Struct, frozen=True, forbid_unknown_fields=True):
    """A bracket over neighbouring staves."""

    over: list[Name] | Name
    barlines: bool = True


class LineUpEntry(
    Struct,
    frozen=True,
    forbid_unknown_fields=True,
    rename={"inner_brackets": "inner brackets", "tempo_above": "tempo above"},
):
    """A whole ensemble file: who plays, in score order from the top.

    A player that is a bare name plays that instrument; a staff that is a list has those players;
    `brackets` and `inner_brackets` are None where the file leaves them to custom.
    """

    title: Annotated[str, Meta(min_length=1)]
    players: Annotated[list[PlayerEntry | str], Meta(min_length=1)]
    description: str = ""
    staves: list[StaveEntry | list[Name]] = []
    groups: dict[str, list[Name]] = {}
    brackets: list[BracketEntry | str] | None = None
    inner_brackets: list[BracketEntry | str] | None = None
    tempo_above: list[Name] | None = None


def line_up(data: object) -> LineUpEntry | None:
    """The entries of a file's data; None where they are not as `LineUpEntry` has them."""
    try:
        return convert(data, LineUpEntry)
    except ValidationError:
        return None
