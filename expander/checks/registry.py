"""Every check there is, found in the folders under `rules/`: one file, one `CHECK`."""

from __future__ import annotations

import importlib
from functools import cache
from pathlib import Path

from expander.checks.check import Check

_HOME = "expander.checks.rules"
_FOLDER = Path(__file__).with_name("rules")


@cache
def all_checks() -> tuple[Check, ...]:
    """All checks, section by section, then by id."""
    return tuple(check for _, checks in by_section() for check in checks)


@cache
def by_section() -> tuple[tuple[str, tuple[Check, ...]], ...]:
    """The sections of the catalogue (the folders, by their `ORDER`) with their checks."""
    found: list[tuple[int, str, tuple[Check, ...]]] = []
    for name in sorted(home.parent.name for home in _FOLDER.glob("*/__init__.py")):
        folder = importlib.import_module(f"{_HOME}.{name}")
        title = (folder.__doc__ or name).strip().splitlines()[0].rstrip(".")
        found.append((folder.ORDER, title, _checks_in(name)))
    return tuple((title, checks) for _, title, checks in sorted(found, key=lambda f: f[:2]))


def _checks_in(folder: str) -> tuple[Check, ...]:
    found: list[Check] = []
    for path in sorted((_FOLDER / folder).glob("[!_]*.py")):
        module = importlib.import_module(f"{_HOME}.{folder}.{path.stem}")
        check = getattr(module, "CHECK", None)
        if isinstance(check, Check):
            found.append(check)
    return tuple(sorted(found, key=lambda check: check.id))
