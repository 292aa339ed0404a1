"""Line-ups: the shipped ones by name, and anybody's own by path.

A shipped line-up is a file of `rules/ensembles`; copying one and changing it is how an arranger
makes their own. What a file may hold is said in `ensemblefile.py`.
"""

from __future__ import annotations

from collections.abc import Collection
from difflib import get_close_matches
from functools import cache
from pathlib import Path

from msgspec.structs import replace

from expander.catalogue.entries import line_up
from expander.catalogue.lineup import built
from expander.catalogue.loader import HERE
from expander.catalogue.yamlfile import load_file
from expander.errors import BadRules, ExpanderError, Spot
from expander.model.instrument import Ensemble
from expander.model.score import Bracket

_SUFFIXES = (".yaml", ".yml")


@cache
def shipped_folder() -> Path:
    """Where the shipped line-ups are: in the installed package, else in the working copy."""
    installed = HERE.parent / "shipped_rules" / "ensembles"
    return installed if installed.is_dir() else HERE.parents[1] / "rules" / "ensembles"


@cache
def shipped_ensembles() -> tuple[str, ...]:
    """The names of the shipped line-ups, in alphabetical order."""
    return tuple(sorted(path.stem for path in shipped_folder().glob("*.yaml")))


def load_ensemble(name_or_path: str, base: Path | None = None, at: Spot | None = None) -> Ensemble:
    """A shipped line-up by name, or one from a file.

    A path is one that ends in `.yaml` or holds a slash; it is taken from `base`, the folder of
    the rule file (or that file itself; the current folder where there is none). `at` is where
    the name stands, for messages. Raises `BadRules` with all mistakes.
    """
    if not _is_path(name_or_path):
        return _load(_shipped(name_or_path, at), f"{name_or_path}.yaml")
    folder = base.parent if base and base.is_file() else base
    path = (folder or Path()) / name_or_path
    if not name_or_path.endswith(_SUFFIXES):
        fault = f"'{name_or_path}' is no ensemble file: its name does not end in .yaml."
        raise BadRules([ExpanderError(fault, at=at, hint="Name one that does.")])
    if not _is_file(path):
        fault = f"there is no ensemble file '{name_or_path}'"
        hint = f"It was looked for at {path}. Shipped are: {', '.join(shipped_ensembles())}."
        raise BadRules([ExpanderError(f"{fault}.", at=at, hint=hint)])
    return _load(path, str(path))


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that no disk can hold
        return False


def _is_path(text: str) -> bool:
    return text.endswith(_SUFFIXES) or "/" in text or "\\" in text


def _shipped(name: str, at: Spot | None) -> Path:
    if name in shipped_ensembles():
        return shipped_folder() / f"{name}.yaml"
    wanted = name.strip().lower().replace(" ", "-").replace("_", "-")
    near = get_close_matches(wanted, shipped_ensembles(), 1)
    known = f"Shipped are: {', '.join(shipped_ensembles())}; or give a file ending in .yaml."
    hint = f"Did you mean '{near[0]}'? {known}" if near else known
    raise BadRules([ExpanderError(f"there is no ensemble '{name}'.", at=at, hint=hint)])


def _load(path: Path, shown: str) -> Ensemble:
    data, where = load_file(path, shown)
    entry = line_up(data)
    if entry is None:
        # What names every mistake is imported where there is one: it takes a while.
        from expander.catalogue.ensemblefile import mistakes_in

        raise BadRules(mistakes_in(data, where))
    return built(path.stem, entry, where)


def without_silent(ensemble: Ensemble, playing: Collection[int]) -> Ensemble:
    """The line-up without the optional staves on which none of the `playing` players stands.

    `playing` holds indices of players; these keep their numbers, only staves are left out.
    """
    kept = [
        index
        for index, stave in enumerate(ensemble.staves)
        if not stave.optional or any(player in playing for player in stave.players)
    ]
    return replace(
        ensemble,
        staves=tuple(ensemble.staves[index] for index in kept),
        brackets=tuple(moved for one in ensemble.brackets if (moved := _moved(one, kept))),
        top_staves=tuple(dict.fromkeys(_next(i, kept) for i in ensemble.top_staves if kept)),
    )


def _moved(bracket: Bracket, kept: list[int]) -> Bracket | None:
    inside = [new for new, old in enumerate(kept) if bracket.first <= old <= bracket.last]
    return replace(bracket, first=inside[0], last=inside[-1]) if len(inside) > 1 else None


def _next(index: int, kept: list[int]) -> int:
    below = [new for new, old in enumerate(kept) if old >= index]
    return below[0] if below else max(len(kept) - 1, 0)
