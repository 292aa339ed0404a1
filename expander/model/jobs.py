"""What a jobs file asks for: which sketches with which rules and line-ups."""

from __future__ import annotations

from msgspec import Struct

from expander.errors import Spot


class JobEntry(Struct, frozen=True):
    """One entry: every sketch with every line-up and every rule file it names.

    Paths are as written, from the jobs file's folder; those of line-ups may also be names. No
    rules or no line-ups leave it to the other. `at` is the entry's place in the file.
    """

    sketches: tuple[str, ...]
    ensembles: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    name: str = ""
    pitch: str = ""
    parts: bool | None = None
    desks: bool = False
    at: Spot | None = None
