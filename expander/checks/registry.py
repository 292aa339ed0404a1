"""Every check there is, found in the folders under `rules/`: one file, one `CHECK`."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from expander.checks.check import Check

_HOME = "expander.checks.rules"


@cache
def all_checks() -> tuple[Check, ...]:
    """All checks, section by section, then by id."""
    return tuple(check for _, checks in by_section() for check in checks)


@cache
def by_section() -> tuple[tuple[str, tuple[Check, ...]], ...]:
    """The sections of the catalogue (the folders, by their `ORDER`) with their checks."""
    home = importlib.import_module(_HOME)
    found: list[tuple[int, str, tuple[Check, ...]]] = []
    for info in pkgutil.iter_modules(home.__path__, _HOME + "."):
        if info.ispkg:
            folder = importlib.import_module(info.name)
            title = (folder.__doc__ or info.name).strip().splitlines()[0].rstrip(".")
            found.append((folder.ORDER, title, _checks_in(info.name)))
    return tuple((title, checks) for _, title, checks in sorted(found, key=lambda f: f[:2]))


def _checks_in(folder: str) -> tuple[Check, ...]:
    package = importlib.import_module(folder)
    found: list[Check] = []
    for info in pkgutil.iter_modules(package.__path__, folder + "."):
        check = getattr(importlib.import_module(info.name), "CHECK", None)
        if isinstance(check, Check):
            found.append(check)
    return tuple(sorted(found, key=lambda check: check.id))
